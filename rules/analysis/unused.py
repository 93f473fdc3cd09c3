"""Records that nothing in the book uses: a source nobody cites, a caution nobody gives, a step nobody takes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from rules.analysis.fault import Fault
from rules.loading.marking import marking_of
from rules.model.records import Amount, Scaled
from rules.rulebook import Rulebook
from rules.situation import Observables

__all__ = ["unused"]

_STEPS: Final = ("draw_nails", "after_stop")


def unused(
    book: Rulebook, observables: Observables, stated: Iterable[str], inherited: Rulebook | None
) -> Iterator[Fault]:
    """Every record without a use; those that ``inherited`` has already are left to it."""
    remedies = [*book.rules.values(), *book.joined.values()]
    readings = [*book.methods.values(), *book.instruments.values(), *book.parameters.values(), *book.levels.values()]
    words = [word for words in book.eye_words.values() for word in words.values()]
    cited = {source for record in (*remedies, *readings, *words) for source in record.sources}
    cited |= {source for record in marking_of(book).chosen for source in record.sources}
    yield from _lacking("sources.toml", "sources", "no record cites this source", book.sources, cited, inherited)
    used = {remedy.caution for remedy in remedies}
    yield from _lacking("cautions.toml", "cautions", "no rule gives this caution", book.cautions, used, inherited)
    yield from _lacking("book.toml", "steps", "this step is never taken", book.steps, _STEPS, inherited)
    looked_at = {place for quantity in book.quantities.values() for place in quantity.places}
    yield from _lacking("book.toml", "places", "nothing is read at this place", book.places, looked_at, inherited)
    yield from _quantities(book, {quantity for quantity, _ in observables} | set(stated))
    yield from _eye_words(book, observables)
    yield from _marks(book)
    for rule_id, joined in book.joined.items():
        if joined.replaces and not joined.replaces_actions:
            yield Fault(
                book.files[rule_id],
                f"joined.{rule_id}.replaces",
                "unused",
                "the rule replaces no actions, so these are not replaced either",
                "Write replaces_actions = true, or take replaces out",
            )


def _lacking(
    file: str, table: str, problem: str, records: Iterable[str], used: Iterable[str], inherited: Rulebook | None
) -> Iterator[Fault]:
    theirs: Iterable[str] = getattr(inherited, table) if inherited is not None else ()
    for name in records:
        if name not in used and name not in theirs:
            yield Fault(file, f"{table}.{name}", "unused", problem, "Take it out, or use it")


def _quantities(book: Rulebook, observable: set[str]) -> Iterator[Fault]:
    used = {rule.quantity for rule in book.rules.values()}
    used |= {name for rule in book.rules.values() for name in (*(rule.with_ or ()), *(rule.without or ()))}
    used |= {clause.reading for joined in book.joined.values() for clause in joined.when if clause.reading}
    used |= _followed(book)
    for name in book.quantities:
        if name not in observable and name not in used:
            yield Fault(
                book.files[name],
                f"quantities.{name}",
                "unused",
                "no observation gives this quantity, and no rule looks at it",
                "Take it out",
            )


def _marks(book: Rulebook) -> Iterator[Fault]:
    """Marks of a criterion of one foot that no stage requires: no sheet ever counts them."""
    required = {name for names in book.required.values() for name in names} | set(book.required_when_hot_fitted)
    for name, record in marking_of(book).marks.items():
        if record.marks and book.criteria[name].of == "foot" and name not in required:
            yield Fault(
                "marking.toml",
                f"marks.{name}.marks",
                "unused",
                "no stage requires this criterion, so its marks are never counted",
                "Write 0 and give the marks to others, or require it",
            )


def _followed(book: Rulebook) -> set[str]:
    """The dimensions that limits and amounts follow."""
    limits = [limit for rule in book.rules.values() for limit in (rule.low, rule.high, _to(rule.amount))]
    limits += [
        limit for joined in book.joined.values() for clause in joined.when for limit in (clause.low, clause.high)
    ]
    return {limit.of for limit in limits if isinstance(limit, Scaled)}


def _to(amount: Amount | None) -> Scaled | float | None:
    return None if amount is None else amount.to


def _eye_words(book: Rulebook, observables: Observables) -> Iterator[Fault]:
    stated = {quantity for (quantity, _), observable in observables.items() if observable.stated}
    for quantity in book.eye_words:
        if quantity not in stated:
            yield Fault(
                "eye_words.toml",
                quantity,
                "unused",
                "no observation states this quantity, so no word of the eye is ever given for it",
                "Take these words out",
            )
