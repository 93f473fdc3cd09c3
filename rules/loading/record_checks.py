"""Checks of one record against the rest of the book: names, sources, texts, units and limits."""

from __future__ import annotations

from collections.abc import Collection
from string import Formatter
from typing import TYPE_CHECKING, Final, NoReturn

from rules.errors import EngineFault, RulebookError
from rules.lazy import lazily
from rules.limits import millionths
from rules.model.figures import Sourced
from rules.model.records import Limit, Quantity, Scaled
from rules.rulebook import Rulebook

if TYPE_CHECKING:
    from difflib import get_close_matches

    from rules.loading.marking_records import Chosen
else:
    get_close_matches = lazily("difflib", "get_close_matches")

__all__ = ["check_limit", "check_sourced", "check_text", "check_unit", "dimensions", "fail", "known"]

_STAND_INS: Final = {"common practice": "trade", "from memory": "memory", "own choice": "own"}
_MICRO: Final = 1_000_000
_MOST_LISTED: Final = 30
"""No more names than this are listed."""


def fail(file: str, key: str, problem: str, remedy: str) -> NoReturn:
    """Raise the RulebookError."""
    raise RulebookError(file, key, problem, remedy)


def known(file: str, key: str, what: str, name: str, choices: Collection[str]) -> None:
    """Fail unless ``name`` is one of ``choices``."""
    if name not in choices:
        fail(file, key, f"unknown {what} {name!r}", _near(name, choices))


def _near(name: str, choices: Collection[str]) -> str:
    """The name that was meant, if one is near, and all that there are, if they are few enough to be read."""
    near = get_close_matches(name, sorted(choices), n=1)
    meant = f"Did you mean {near[0]!r}?" if near else ""
    if len(choices) > _MOST_LISTED:
        return f"{meant} There are {len(choices)}: see 'fitcheck rules list' or 'fitcheck rules page'".lstrip()
    return f"{meant} Known: {', '.join(sorted(choices)) or 'none'}".lstrip()


def check_sourced(book: Rulebook, file: str, key: str, record: Sourced | Chosen) -> None:
    """Every source is known, and they fit the status of the figure."""
    for source in record.sources:
        known(file, f"{key}.sources", "source", source, book.sources)
    stand_in = _STAND_INS.get(record.status)
    if stand_in is not None and stand_in not in record.sources:
        fail(
            file, f"{key}.sources", f"a figure that is {record.status} must say so", f"Add {stand_in!r} to the sources"
        )
    if record.status == "own practice":
        if not set(record.sources) - {"trade", "memory"}:
            fail(file, f"{key}.sources", "own practice names nobody whose it is", "Add your own source, or 'own'")
    elif stand_in is None and not set(record.sources) - set(_STAND_INS.values()):
        fail(file, f"{key}.sources", "a published figure names no published source", "Name it, or change the status")


def check_text(file: str, key: str, text: str, placeholders: Collection[str]) -> None:
    """The braces of ``text`` pair, and each holds the bare name of one of ``placeholders``."""
    if "{" not in text and "}" not in text:
        return
    try:
        fields = [(name, spec, conversion) for _, name, spec, conversion in Formatter().parse(text) if name is not None]
    except ValueError as error:
        raise RulebookError(
            file, key, f"the text's braces do not pair: {error}", "Write a placeholder as {name}"
        ) from error
    for name, spec, conversion in fields:
        known(file, key, "placeholder", name, placeholders)
        if spec or conversion:
            fail(file, key, f"the placeholder {name!r} has something after its name", f"Write {{{name}}}")


def check_unit(file: str, key: str, unit: str | None, quantity: Quantity) -> None:
    """``unit`` is the quantity's own, or 'word'."""
    expected = quantity.unit if quantity.kind == "number" else "word"
    if unit != expected:
        fail(file, key, f"unit {unit!r} is not the quantity's", f"Write {expected!r}")


def file_of(book: Rulebook, quantity: str) -> str:
    """The file that a quantity stands in."""
    return book.files[quantity]


def dimensions(book: Rulebook) -> list[str]:
    """The quantities that a limit may follow: sizes of the whole foot or shoe that belong to no criterion."""
    return [name for name in book.quantities if _is_dimension(book, name)]


def _is_dimension(book: Rulebook, name: str) -> bool:
    return name not in book.criterion_of and name in book.quantities and "foot" in book.quantities[name].places


def check_limit(book: Rulebook, file: str, key: str, limit: Limit | None, quantity: Quantity) -> None:
    """A limit is exact in millionths, as the engine compares; one that is scaled follows a dimension of its unit."""
    if limit is None:
        return
    if isinstance(limit, Scaled):
        if not _is_dimension(book, limit.of):
            known(file, f"{key}.of", "dimension", limit.of, dimensions(book))
        if book.quantities[limit.of].unit != quantity.unit:
            fail(file, f"{key}.of", f"{limit.of} is not in {quantity.unit}", "Follow a dimension of the same unit")
        _check_exact(file, f"{key}.plus", limit.plus)
    else:
        _check_exact(file, key, limit)


def _check_exact(file: str, key: str, number: float) -> None:
    try:
        exact = millionths(number) / _MICRO == number
    except EngineFault:
        exact = False
    if not exact:
        fail(file, key, f"{number!r} cannot be compared exactly", "Write a smaller number with six decimals at most")
