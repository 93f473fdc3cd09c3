"""An explanation as plain text: each criterion with its readings and limits, then the decision."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, groupby
from typing import Final

from fitcheck.explanation.models import (
    CriterionExplained,
    Explanation,
    JoinedExplained,
    LimitExplained,
    ReadingExplained,
    SituationExplained,
)
from fitcheck.report.terminal import Paint, indented, plain
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.text.format import figure, place_title, shown, unobserved_title
from rules import Rulebook

__all__ = ["render_explanation"]

_MARKS: Final = {"fired": "!", "silent": "-", "silenced": "-", "unmet": "-", "not_judged": "?"}


def render_explanation(
    explanation: Explanation, book: Rulebook, *, width: int = 96, paint: Paint = plain, whole: bool = True
) -> str:
    """The explanation as text of at most ``width`` columns (long words aside), ending in a newline.

    Not ``whole``: what concerns the findings, what is missing, and what was near a limit; what is left out is counted.
    """
    if whole:
        return "\n".join(_lines(explanation, book, width, paint)) + "\n"
    folded = _folded(explanation)
    left_out = messages_of(book).say(
        "explanation.why.left_out",
        readings=str(_count(explanation) - _count(folded)),
        limits=str(_count_limits(explanation) - _count_limits(folded)),
    )
    lines = chain(_lines(folded, book, width, paint, "explanation.why.title_folded"), indented("", left_out, width))
    return "\n".join(lines) + "\n"


def _folded(explanation: Explanation) -> Explanation:
    """What of an explanation concerns the findings, is missing, or was near a limit."""
    near = explanation.levels["guarded"]
    criteria = (
        criterion.model_copy(
            update={
                "readings": _near(criterion.readings, near),
                "joined": tuple(joined for joined in criterion.joined if joined.outcome == "fired"),
                "not_assessed": (),
            }
        )
        for criterion in explanation.criteria
    )
    told = tuple(each for each in criteria if each.readings or each.joined or each.still_needed)
    return explanation.model_copy(update={"criteria": told, "sizes": _near(explanation.sizes, near), "kept": ()})


def _near(readings: Iterable[ReadingExplained], chance: float) -> tuple[ReadingExplained, ...]:
    """Those that a limit did not simply pass, each with these limits alone.

    A silent limit is near where it would have fired had it been guarded: from this ``chance`` of lying past it on.
    """
    found = []
    for reading in readings:
        limits = tuple(limit for limit in reading.limits if limit.outcome != "silent" or _is_near(limit, chance))
        if limits:
            found.append(reading.model_copy(update={"limits": limits, "elsewhere": ()}))
    return tuple(found)


def _is_near(limit: LimitExplained, chance: float) -> bool:
    return limit.margin == 0 or (limit.probability is not None and limit.probability >= chance)


def _every_reading(explanation: Explanation) -> Iterator[ReadingExplained]:
    yield from explanation.sizes
    yield from explanation.kept
    for criterion in explanation.criteria:
        yield from criterion.readings


def _count(explanation: Explanation) -> int:
    return sum(1 for _ in _every_reading(explanation))


def _count_limits(explanation: Explanation) -> int:
    return sum(len(reading.limits) for reading in _every_reading(explanation))


def _lines(
    explanation: Explanation, book: Rulebook, width: int, paint: Paint, title: str = "explanation.why.title"
) -> Iterator[str]:
    messages = messages_of(book)
    levels = {name: messages.number(f"{level * 100:g}") for name, level in explanation.levels.items()}
    yield paint(messages.say(title))
    yield from indented("", _situation(explanation.situation, messages), width)
    yield from indented(
        "", messages.say("explanation.why.signs", guarded=levels["guarded"], simple=levels["simple"]), width
    )
    if explanation.sizes:
        yield ""
        yield paint(messages.say("explanation.why.sizes"))
        yield from _readings(explanation.sizes, book, width)
    if explanation.kept:
        yield ""
        yield paint(messages.say("explanation.why.kept"))
        yield from _readings(explanation.kept, book, width)
    for criterion in explanation.criteria:
        yield from _criterion(criterion, book, width, paint)
    yield ""
    yield paint(messages.say("explanation.why.decision"))
    decision = explanation.decision
    yield from indented("  ", decision.say, width)
    for message_id, names in (
        ("explanation.why.decided_by", decision.decided_by),
        ("explanation.why.other_findings", decision.other_findings),
        ("explanation.why.needed", decision.still_needed),
    ):
        if names:
            yield from indented("  ", messages.say(message_id, names=", ".join(names)), width)


def _situation(situation: SituationExplained, messages: Messages) -> str:
    hot = messages.say("explanation.why.hot" if situation.hot_fitted == "yes" else "explanation.why.cold")
    if situation.hot_fitted_assumed:
        hot = messages.say("explanation.why.assumed", hot=hot)
    words = {key: messages.word(getattr(situation, key)) for key in ("foot", "stage", "work", "hoof_form")}
    if situation.stance is None:
        return messages.say("explanation.why.situation", hot=hot, **words)
    stance = messages.word(situation.stance)
    return messages.say("explanation.why.situation_with_stance", hot=hot, stance=stance, **words)


def _criterion(criterion: CriterionExplained, book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    messages = messages_of(book)
    standing = messages.say("explanation.why.required" if criterion.required else "explanation.why.not_required")
    if not criterion.observable:
        standing = messages.say("explanation.why.not_observable")
    yield ""
    yield paint(f"{criterion.title} ({standing})")
    yield from _readings(criterion.readings, book, width)
    if not criterion.readings:
        yield f"  {messages.say('explanation.why.nothing_read')}"
    for joined in criterion.joined:
        yield from _joined(joined, messages, width)
    for needed in criterion.still_needed:
        yield from indented(
            "  ? ", messages.say("explanation.why.still_needed", field=needed.field, say=needed.say), width
        )
    if criterion.not_assessed:
        names = "; ".join(unobserved_title(name, book) for name in criterion.not_assessed)
        yield from indented("  ? ", messages.say("view.unobserved_names", names=names), width)


def _readings(readings: tuple[ReadingExplained, ...], book: Rulebook, width: int) -> Iterator[str]:
    messages = messages_of(book)
    for title, group in groupby(readings, key=lambda reading: reading.title):
        yield from indented("  ", f"{title[0].upper()}{title[1:]}", width)
        printed: set[str] = set()
        for reading in group:
            at = messages.say(
                "explanation.why.at", place=place_title(reading.place, book), reading=_read(reading, messages)
            )
            yield from indented("    ", at, width)
            for limit in reading.limits:
                yield from indented(f"      {_MARKS[limit.outcome]} ", _limit(limit, messages), width)
            # What is the same for one heel and the other, or for eight nails, is said once.
            elsewhere = [each for each in reading.elsewhere if f"{each.rule} {each.why}" not in printed]
            for other in elsewhere:
                printed.add(f"{other.rule} {other.why}")
                grade = messages.named("grade", other.grade)
                reason = messages.say("explanation.why.not_here", rule=other.rule, grade=grade, why=other.why)
                yield from indented("        ", reason, width)


def _read(reading: ReadingExplained, messages: Messages) -> str:
    parts = [_value(reading.value, reading.unit, messages), messages.named("origin", reading.origin)]
    if reading.u is not None:
        parts.insert(1, f"u {messages.number(f'{reading.u:.2g}')}")
    if reading.method:
        parts.append(reading.method)
    printed = f"{', '.join(parts)}."
    if reading.where:
        printed += f" {reading.where[0].upper()}{reading.where[1:]}."
    if reading.given is not None:
        value = _value(reading.given.value, reading.unit, messages)
        method = f", {reading.given.method}" if reading.given.method else ""
        printed = f"{printed} {messages.say('explanation.why.instead', given=f'{value}{method}')}"
    return printed


def _value(value: float | str, unit: str | None, messages: Messages) -> str:
    return messages.word(value) if isinstance(value, str) else shown(value, unit or "1", messages.language)


def _limit(limit: LimitExplained, messages: Messages) -> str:
    grade = messages.named("grade", limit.grade)
    if limit.fires == "guarded":
        grade = f"{grade}, {messages.word('guarded')}"
    applies = (
        f" {messages.say('explanation.why.applies_here', contexts=limit.applies)}" if _narrowed(limit, messages) else ""
    )
    besides = "".join(
        f" {messages.say('explanation.why.besides', quantity=messages.named('quantity', name), words=words)}"
        for name, words in ((name, _either(words, messages)) for name, words in limit.only_with.items())
    )
    standing = _standing(limit, messages)
    return f"{limit.rule} ({grade}; {_fires(limit, messages)}{besides}; {standing}).{applies} {limit.why}"


def _narrowed(explained: LimitExplained | JoinedExplained, messages: Messages) -> bool:
    return explained.applies != messages.say("phrase.everywhere")


def _standing(explained: LimitExplained | JoinedExplained, messages: Messages) -> str:
    return f"{messages.named('status', explained.status)}: {', '.join(explained.sources)}"


def _either(words: Iterable[str], messages: Messages) -> str:
    return messages.joined(map(messages.word, words), "or")


def _fires(limit: LimitExplained, messages: Messages) -> str:
    if limit.words:
        return messages.say("explanation.why.on", words=_either(limit.words, messages))
    unit = limit.unit or "1"
    at_or = "at_or_" if limit.edge_fires else ""
    limits = messages.joined(
        (
            messages.say(f"phrase.{at_or}{side}", limit=figure(round(edge, 2), unit, messages.language))
            for side, edge in (("below", limit.low), ("above", limit.high))
            if edge is not None
        ),
        "or",
    )
    printed = messages.say("explanation.why.printed", printed=limit.printed) if limit.printed else None
    notes = [note for note in (limit.follows, printed) if note]
    return f"{limits} ({'; '.join(notes)})".strip() if notes else limits


def _joined(joined: JoinedExplained, messages: Messages, width: int) -> Iterator[str]:
    mark = _MARKS[joined.outcome]
    applies = (
        f" {messages.say('explanation.why.applies_to', contexts=joined.applies)}" if _narrowed(joined, messages) else ""
    )
    standing, grade = _standing(joined, messages), messages.named("grade", joined.grade)
    why = joined.why if joined.outcome == "fired" else messages.say("explanation.why.joined_silent")
    printed = messages.say("explanation.why.joined", rule=joined.rule, grade=grade, standing=standing)
    yield from indented(f"  {mark} ", f"{printed}{applies} {why}", width)
    for clause in joined.clauses:
        yield from indented(f"      {'+' if clause.holds else '-'} ", f"{clause.say}. {clause.why}", width)
