"""What differs between two rulebooks, in words that a farrier reads."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any, Final

from fitcheck.report.terminal import Paint, plain
from fitcheck.text.format import clause_in_words, contexts_in_words, limit_in_words, one_limit_in_words, place_title
from rules import Rulebook, marking_of
from rules.analysis.difference import WHY_OFF, Change, Difference, KeyChange
from rules.loading.marking_records import Band, CriterionMarks, Deduction, ProgressFigure, Scheme
from rules.model.figures import EyeWord, Level, Parameter, Uncertainty
from rules.model.records import Context, Criterion, JoinedRule, Quantity, Rule

__all__ = ["book_in_words", "change_in_words", "difference_document", "difference_lines"]

_TITLES: Final = {
    "book": "The book",
    "policy": "What the book judges, and what follows each stage",
    "required": "What a release requires",
    "criteria": "Criteria",
    "quantities": "Quantities",
    "rules": "Rules",
    "joined": "Joined rules",
    "levels": "How sure a finding must be",
    "eye_words": "Words of the eye",
    "methods": "How sure a reading is",
    "instruments": "How sure a reading is, by unit",
    "parameters": "What computations reckon with",
    "scheme": "Marks of a whole foot",
    "marks": "Marks of each criterion",
    "deductions": "What takes marks off",
    "bands": "What a mark is called",
    "progress": "What progress is reckoned with",
    "says": "What a sheet of marks says",
    "cautions": "Cautions",
    "standing": "Cautions with every assessment",
    "steps": "Fixed steps",
    "remarks": "What computations leave out, and the next visit",
    "places": "Names of places",
    "sources": "Sources",
}
_FIGURES: Final = {
    "rules": {"low", "high", "is", "edge", "unit", "printed"},
    "joined": {"when"},
    "levels": {"probability"},
    "eye_words": {"value", "u", "unit"},
    "methods": {"u", "unit"},
    "instruments": {"u", "unit"},
    "parameters": {"low", "high", "value", "unit", "printed"},
    "quantities": {"range", "unit", "words"},
    "scheme": {"total"},
    "marks": {"marks"},
    "deductions": {"percent"},
    "bands": {"from"},
    "progress": {"value"},
}
"""The keys that the figure of a record is told from."""

_STANDING: Final = {"status", "sources"}
_LABELS: Final = {
    "applies": "applies",
    "unless": "silent when these fire",
    "with": "only with",
    "places": "looked for at",
    "amount": "aims at",
    "basis": "why",
    "needs": "needs",
    "range_basis": "why",
    "range_status": "standing of the range",
    "finished_when_hot_fitted": "finished, hot-fitted",
    "worst": "with nothing graver than",
    WHY_OFF: "switched off",
}
_LAST: Final = frozenset({"basis", "range_basis", WHY_OFF})
"""Reasons: they stand last, and only as they are now."""

_OF_MARKING: Final = frozenset({"marks", "deductions", "bands", "progress", "says"})
"""Parts that stand in the marking scheme."""

_NOTHING: Final = "nothing"
_OF_ITSELF: Final = {"shoe_off": False, "blocks": True, "replaces_actions": False, "once": False, "judged": True}
"""What holds for a key that is not given."""


def difference_lines(difference: Difference, *, width: int = 96, paint: Paint = plain) -> Iterator[str]:
    """The whole difference, line by line."""
    yield from _wrapped(f"From {book_in_words(difference.before)}", "", width)
    yield from _wrapped(f"to   {book_in_words(difference.after)}", "", width)
    part = ""
    for change in difference.changes:
        if change.part != part:
            part = change.part
            yield ""
            yield paint(_TITLES[part])
        headline, *others = change_in_words(change, difference)
        yield from _wrapped(headline, "  ", width)
        for line in others:
            yield from _wrapped(line, "      ", width)
    if not difference.changes:
        yield "No difference."


def difference_document(difference: Difference) -> dict[str, Any]:
    """The difference as JSON values."""
    return {
        "before": _identity(difference.before),
        "after": _identity(difference.after),
        "equal": not difference.changes,
        "changes": [
            {
                "part": change.part,
                "name": change.name,
                "change": change.how,
                "says": list(change_in_words(change, difference)),
                "keys": [{"key": key.key, "before": key.before, "after": key.after} for key in change.keys],
            }
            for change in difference.changes
        ],
    }


def _identity(book: Rulebook) -> dict[str, Any]:
    return {name: getattr(book, name) for name in ("id", "title", "version", "digest", "inherits")}


def book_in_words(book: Rulebook) -> str:
    """A rulebook by title, id, version and what it inherits."""
    inherits = f", over {book.inherits}" if book.inherits else ""
    return f"{book.title} ({book.id} {book.version}{inherits})"


def change_in_words(change: Change, difference: Difference) -> tuple[str, ...]:
    """One change: what it comes to in a line, then whatever else differs, a line each."""
    name = _name(change, difference)
    old, new = _figure(change, difference.before), _figure(change, difference.after)
    match change.how:
        case "added":
            lines = [f"added{_led(new)}{_standing(change, difference, new=True)}", *_rest(change, difference)]
        case "removed":
            lines = [f"removed{_led(old)}{_standing(change, difference, new=False)}"]
        case "switched_off":
            lines = [f"switched off{_led(old)}", *_others(change, difference, {WHY_OFF})]
        case "switched_on":
            lines = [f"no longer switched off{_led(new)}"]
        case "changed" if old and new and old != new:
            was = old[1] if old[0] == new[0] else " ".join(old)
            lines = [f"{' '.join(new)}, was {was}{_standing(change, difference)}", *_rest(change, difference)]
        case "changed":
            standing = _standing(change, difference).strip(" ()")
            lines = [*_rest(change, difference), *([f"standing: {standing}"] if standing else [])]
            if len(lines) > 1:
                lines.insert(0, "changed")
    return f"{name}: {lines[0]}", *lines[1:]


def _name(change: Change, difference: Difference) -> str:
    if change.part == "eye_words":
        return change.name.replace(".", " ")
    record = _record(change, difference.after) or _record(change, difference.before)
    return record.title if isinstance(record, Uncertainty) else change.name


def _led(figure: tuple[str, str] | None) -> str:
    return f", {' '.join(figure)}" if figure else ""


def _rest(change: Change, difference: Difference) -> Iterator[str]:
    """What stands beside a figure."""
    phrase = _FIGURES[change.part] if change.part in _FIGURES else set[str]()
    yield from _others(change, difference, set(change.changed) - phrase - _STANDING)


def _others(change: Change, difference: Difference, chosen_keys: set[str]) -> Iterator[str]:
    for key in sorted(change.keys, key=lambda key: key.key in _LAST):
        if key.key not in chosen_keys:
            continue
        label = _LABELS.get(key.key, key.key.replace(".", ", ").replace("_", " "))
        if change.part == "required":
            yield f"{label}: {_gained_and_lost(key)}"
            continue
        before, after = (
            _value(change, key, book, value)
            for book, value in ((difference.before, key.before), (difference.after, key.after))
        )
        yield f"{label}: {after}" if key.key in _LAST or change.how != "changed" else f"{label}: {after}, was {before}"


def _gained_and_lost(key: KeyChange) -> str:
    gained = [name for name in key.after if name not in key.before]
    lost = [name for name in key.before if name not in key.after]
    parts = [f"{', '.join(names)} {what}" for names, what in ((gained, "added"), (lost, "taken out")) if names]
    return "; ".join(parts) or "in another order"


def _standing(change: Change, difference: Difference, *, new: bool | None = None) -> str:
    """Status and sources after the change, and what they were; ``new`` says which alone of the two there is."""
    if not _STANDING & set(change.changed):
        return ""
    before, after = (
        "" if record is None else f"{record.status}: {', '.join(record.sources)}"
        for record in (_record(change, difference.before), _record(change, difference.after))
    )
    return f" ({after}; was {before})" if new is None else f" ({after if new else before})"


def _record(change: Change, book: Rulebook) -> Any:
    if change.part == "eye_words":
        quantity, word = change.name.split(".", 1)
        return book.eye_words.get(quantity, {}).get(word)
    if change.part in {"book", "required"}:
        return None
    if change.part == "scheme":
        return marking_of(book).scheme
    owner: Any = marking_of(book) if change.part in _OF_MARKING else book
    return getattr(owner, change.part).get(change.name)


def _figure(change: Change, book: Rulebook) -> tuple[str, str] | None:
    """What a record comes to, as a verb and the figure."""
    phrase: tuple[str, str] | None = None
    match _record(change, book):
        case Rule() as rule:
            printed = f" (printed as {rule.printed})" if rule.printed else ""
            phrase = "fires", ("when it " if rule.is_ else "") + limit_in_words(rule, book) + printed
        case JoinedRule() as joined:
            phrase = "joins", " and ".join(clause_in_words(clause, book) for clause in joined.when)
        case EyeWord() as word:
            phrase = "stands for", f"{one_limit_in_words(word.value, word.unit, book)}, give or take {word.u:g}"
        case Uncertainty() as way:
            phrase = "is sure to", f"{one_limit_in_words(way.u, way.unit, book)} (standard uncertainty)"
        case Parameter() as parameter:
            ends = [] if parameter.low is None else [f"{parameter.low:g} to {parameter.high:g}"]
            middle = [] if parameter.value is None else [f"{parameter.value:g}"]
            phrase = "is", f"{', taken as '.join(ends + middle)} {parameter.unit}"
        case Level() as level:
            phrase = "fires", f"from a chance of {level.probability:g}"
        case Scheme() | CriterionMarks() | Deduction() | Band() | ProgressFigure() as figure:
            phrase = _marking_value(figure)
        case Quantity(range=(least, most), unit=unit):
            phrase = "can be", f"{least:g} to {one_limit_in_words(most, unit or '1', book)}"
        case Quantity() as quantity:
            phrase = "is one of", ", ".join(quantity.vocabulary)
    return phrase


def _marking_value(record: Scheme | CriterionMarks | Deduction | Band | ProgressFigure) -> tuple[str, str]:
    """A figure of the marking scheme, as a verb and the figure."""
    match record:
        case Scheme():
            return "comes to", f"{record.total} marks"
        case CriterionMarks():
            return "has", f"{record.marks} marks"
        case Deduction():
            return "takes off", f"{record.percent} % of the criterion's marks"
        case Band():
            return "begins at", f"{record.from_} %"
        case ProgressFigure():
            return "is", f"{record.value}"


def _value(change: Change, key: KeyChange, book: Rulebook, value: Any) -> str:
    """A value as ``book`` has it."""
    record = _record(change, book)
    if key.key == "applies":
        contexts: tuple[Context, ...] | None = getattr(record, "applies", None)
        return contexts_in_words(contexts)
    if value is None:
        value = _OF_ITSELF.get(key.key)
    if key.key == "needs" and isinstance(record, Criterion):
        return "; ".join(
            f"{' or '.join(name.replace('_', ' ') for name in need.any_of)} at "
            + (need.at.replace("_", " ") if isinstance(need.at, str) else _places(need.at, book))
            + (f" ({', '.join(stage.replace('_', ' ') for stage in need.stages)})" if need.stages else "")
            for need in record.needs
        )
    if key.key == "amount" and isinstance(record, Rule) and record.amount is not None:
        return one_limit_in_words(record.amount.to, record.unit, book)
    return _plain(value)


def _places(places: tuple[str, ...], book: Rulebook) -> str:
    return " and ".join(place_title(place, book) for place in places)


def _plain(value: Any) -> str:
    if value is None:
        return _NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:g}"
    if isinstance(value, list):
        return ", ".join(_plain(part) for part in value) or _NOTHING
    if isinstance(value, dict):
        return "; ".join(f"{key.replace('_', ' ')} {_plain(part)}" for key, part in value.items())
    text = str(value)
    return f'"{text}"' if " " in text else text


def _wrapped(text: str, lead: str, width: int) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=f"{lead}    ",
        break_long_words=False,
        break_on_hyphens=False,
    )
