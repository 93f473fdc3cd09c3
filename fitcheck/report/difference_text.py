"""What differs between two rulebooks, in words that a farrier reads."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any, Final

from fitcheck.report.terminal import Paint, plain
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.text.format import clause_in_words, contexts_in_words, limit_in_words, one_limit_in_words, place_title
from rules import Rulebook, marking_of
from rules.analysis.difference import WHY_OFF, Change, Difference, KeyChange
from rules.loading.marking_records import Band, CriterionMarks, Deduction, ProgressFigure, Scheme
from rules.model.figures import EyeWord, Level, Parameter, Uncertainty
from rules.model.records import Context, Criterion, JoinedRule, Need, Quantity, Rule

__all__ = ["book_in_words", "change_in_words", "difference_document", "difference_lines"]

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
_LABELLED: Final = frozenset(
    {
        *("applies", "unless", "with", "places", "amount", "basis", "needs", "range_basis", "range_status", "worst"),
        *("finished_when_hot_fitted", WHY_OFF),
    }
)
"""Keys that a change calls by a phrase of its own."""
_LAST: Final = frozenset({"basis", "range_basis", WHY_OFF})
"""Reasons: they stand last, and only as they are now."""

_OF_MARKING: Final = frozenset({"marks", "deductions", "bands", "progress", "says"})
"""Parts that stand in the marking scheme."""

_OF_ITSELF: Final = {"shoe_off": False, "blocks": True, "replaces_actions": False, "once": False, "judged": True}
"""What holds for a key that is not given."""


def difference_lines(difference: Difference, *, width: int = 96, paint: Paint = plain) -> Iterator[str]:
    """The whole difference, line by line."""
    messages = messages_of(difference.after)
    for which, book in (("from", difference.before), ("to", difference.after)):
        yield from _wrapped(f"{messages.say(f'rules.compare.{which}')}{book_in_words(book)}", "", width)
    part = ""
    for change in difference.changes:
        if change.part != part:
            part = change.part
            yield ""
            yield paint(messages.say(f"rules.diff.part.{part}"))
        headline, *others = change_in_words(change, difference)
        yield from _wrapped(headline, "  ", width)
        for line in others:
            yield from _wrapped(line, "      ", width)
    if not difference.changes:
        yield messages.say("rules.diff.none")


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
    inherits = messages_of(book).say("rules.diff.over", book=book.inherits) if book.inherits else ""
    return f"{book.title} ({book.id} {book.version}{inherits})"


def change_in_words(change: Change, difference: Difference) -> tuple[str, ...]:
    """One change: what it comes to in a line, then whatever else differs, a line each."""
    messages = messages_of(difference.after)
    say = messages.say
    name = _name(change, difference)
    old, new = _figure(change, difference.before), _figure(change, difference.after)
    match change.how:
        case "added":
            lines = [
                f"{say('rules.diff.added')}{_led(new)}{_standing(change, difference, new=True)}",
                *_rest(change, difference),
            ]
        case "removed":
            lines = [f"{say('rules.diff.removed')}{_led(old)}{_standing(change, difference, new=False)}"]
        case "switched_off":
            lines = [f"{say('rules.diff.switched_off')}{_led(old)}", *_others(change, difference, {WHY_OFF})]
        case "switched_on":
            lines = [f"{say('rules.diff.switched_on')}{_led(new)}"]
        case "changed" if old and new and old != new:
            was = old[1] if old[0] == new[0] else " ".join(old)
            now = say("rules.now_and_before", what=new[0], now=new[1], before=was)
            lines = [f"{now}{_standing(change, difference)}", *_rest(change, difference)]
        case "changed":
            standing = _standing(change, difference).strip(" ()")
            lines = [*_rest(change, difference), *([f"{say('rules.diff.standing')}: {standing}"] if standing else [])]
            if len(lines) > 1:
                lines.insert(0, say("rules.diff.changed"))
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
    messages = messages_of(difference.after)
    for key in sorted(change.keys, key=lambda key: key.key in _LAST):
        if key.key not in chosen_keys:
            continue
        plain_key = key.key.replace(".", ", ").replace("_", " ")
        label = messages.say(f"rules.diff.key.{key.key.replace(' ', '_')}") if key.key in _LABELLED else plain_key
        if change.part == "required":
            yield f"{label}: {_gained_and_lost(key, messages)}"
            continue
        before, after = (
            _value(change, key, book, value)
            for book, value in ((difference.before, key.before), (difference.after, key.after))
        )
        if key.key in _LAST or change.how != "changed":
            yield f"{label}: {after}"
        else:
            yield messages.say("rules.now_and_before", what=f"{label}:", now=after, before=before)


def _gained_and_lost(key: KeyChange, messages: Messages) -> str:
    gained = [name for name in key.after if name not in key.before]
    lost = [name for name in key.before if name not in key.after]
    parts = [
        f"{', '.join(names)} {messages.say(f'rules.diff.{what}')}"
        for names, what in ((gained, "added"), (lost, "taken_out"))
        if names
    ]
    return "; ".join(parts) or messages.say("rules.diff.reordered")


def _standing(change: Change, difference: Difference, *, new: bool | None = None) -> str:
    """Status and sources after the change, and what they were; ``new`` says which alone of the two there is."""
    if not _STANDING & set(change.changed):
        return ""
    messages = messages_of(difference.after)
    before, after = (
        "" if record is None else f"{messages.named('status', record.status)}: {', '.join(record.sources)}"
        for record in (_record(change, difference.before), _record(change, difference.after))
    )
    both = messages.say("rules.diff.stood", now=after, before=before)
    return f" ({both})" if new is None else f" ({after if new else before})"


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
    messages = messages_of(book)
    say = messages.say
    match _record(change, book):
        case Rule() as rule:
            phrase = say("rules.diff.fires"), _when(rule, book)
        case JoinedRule() as joined:
            clauses = (clause_in_words(clause, book) for clause in joined.when)
            phrase = say("rules.diff.joins"), messages.joined(clauses, "and")
        case EyeWord() as word:
            value = one_limit_in_words(word.value, word.unit, book)
            phrase = (
                say("rules.diff.stands_for"),
                say("rules.diff.give_or_take", value=value, u=_number(word.u, messages)),
            )
        case Uncertainty() as way:
            phrase = say("rules.diff.sure_to"), say("rules.diff.u", u=one_limit_in_words(way.u, way.unit, book))
        case Parameter() as parameter:
            phrase = say("rules.diff.is"), f"{_range_and_value(parameter, messages)} {parameter.unit}"
        case Level() as level:
            phrase = say("rules.diff.fires"), say("rules.diff.chance", chance=_number(level.probability, messages))
        case Scheme() | CriterionMarks() | Deduction() | Band() | ProgressFigure() as figure:
            phrase = _marking_value(figure, messages)
        case Quantity(range=(least, most), unit=unit):
            ends = say("rules.turn", before=_number(least, messages), after=one_limit_in_words(most, unit or "1", book))
            phrase = say("rules.diff.can_be"), ends
        case Quantity() as quantity:
            words = (messages.word(word, spaced=False) for word in quantity.vocabulary)
            phrase = say("rules.diff.one_of"), ", ".join(words)
    return phrase


def _number(value: float, messages: Messages) -> str:
    return messages.number(f"{value:g}")


def _when(rule: Rule, book: Rulebook) -> str:
    """When a rule fires, and how its source prints that."""
    say, when = messages_of(book).say, limit_in_words(rule, book)
    printed = say("rules.printed", printed=rule.printed) if rule.printed else ""
    return (say("rules.diff.when_it", what=when) if rule.is_ else when) + printed


def _range_and_value(parameter: Parameter, messages: Messages) -> str:
    """The range of a parameter, and what is taken of it."""
    low, value, high = (
        None if each is None else _number(each, messages) for each in (parameter.low, parameter.value, parameter.high)
    )
    if low is None:
        return value or ""
    ends = messages.say("rules.turn", before=low, after=high)
    return ends if value is None else messages.say("rules.diff.taken", range=ends, value=value)


def _marking_value(
    record: Scheme | CriterionMarks | Deduction | Band | ProgressFigure, messages: Messages
) -> tuple[str, str]:
    """A figure of the marking scheme, as a verb and the figure."""
    say = messages.say
    match record:
        case Scheme():
            return say("rules.diff.comes_to"), say("rules.diff.marks", marks=record.total)
        case CriterionMarks():
            return say("rules.diff.has"), say("rules.diff.marks", marks=record.marks)
        case Deduction():
            return say("rules.diff.takes_off"), say("rules.diff.of_the_marks", percent=record.percent)
        case Band():
            return say("rules.diff.begins_at"), f"{record.from_} %"
        case ProgressFigure():
            return say("rules.diff.is"), f"{record.value}"


def _value(change: Change, key: KeyChange, book: Rulebook, value: Any) -> str:
    """A value as ``book`` has it."""
    record = _record(change, book)
    messages = messages_of(book)
    if key.key == "applies":
        contexts: tuple[Context, ...] | None = getattr(record, "applies", None)
        return contexts_in_words(contexts, book.language)
    if value is None:
        value = _OF_ITSELF.get(key.key)
    if key.key == "needs" and isinstance(record, Criterion):
        return "; ".join(_need(need, book, messages) for need in record.needs)
    if key.key == "amount" and isinstance(record, Rule) and record.amount is not None:
        return one_limit_in_words(record.amount.to, record.unit, book)
    return _plain(value, messages)


def _need(need: Need, book: Rulebook, messages: Messages) -> str:
    what = messages.joined((messages.named("quantity", name) for name in need.any_of), "or")
    if isinstance(need.at, str):
        place = messages.say(f"rules.diff.at.{need.at}")
    else:
        place = messages.joined((place_title(place, book) for place in need.at), "and")
    stages = (messages.say(f"rules.stage.{stage}") for stage in need.stages or ())
    return messages.say("phrase.at", what=what, place=place) + (f" ({', '.join(stages)})" if need.stages else "")


def _plain(value: Any, messages: Messages) -> str:
    if value is None:
        return messages.say("rules.diff.nothing")
    if isinstance(value, bool):
        return messages.say("rules.diff.yes" if value else "rules.diff.no")
    if isinstance(value, int | float):
        return messages.number(f"{value:g}")
    if isinstance(value, list):
        return ", ".join(_plain(part, messages) for part in value) or messages.say("rules.diff.nothing")
    if isinstance(value, dict):
        return "; ".join(f"{key.replace('_', ' ')} {_plain(part, messages)}" for key, part in value.items())
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
