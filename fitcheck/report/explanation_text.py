"""An explanation as plain text: each criterion with its readings and limits, then the decision."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from itertools import groupby
from typing import Final

from fitcheck.explanation import (
    CriterionExplained,
    Explanation,
    JoinedConsidered,
    LimitConsidered,
    ReadingExplained,
    SituationExplained,
)
from fitcheck.report.terminal import Paint, plain
from fitcheck.sentences import place_title, shown
from rules import Rulebook

__all__ = ["render_explanation"]

_MARKS: Final = {"fired": "!", "silent": "-", "silenced": "-", "unmet": "-", "not_judged": "?"}


def render_explanation(explanation: Explanation, book: Rulebook, *, width: int = 96, paint: Paint = plain) -> str:
    """The whole explanation as text of at most ``width`` columns (long words aside), ending in a newline."""
    return "\n".join(_lines(explanation, book, width, paint)) + "\n"


def _lines(explanation: Explanation, book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    yield paint("Why: every reading against every limit on it")
    yield from _wrapped("", _situation(explanation.situation), width)
    yield from _wrapped(
        "",
        "Marks: ! fired, - stayed silent, ? could not be judged. u is the standard uncertainty. A guarded limit fires "
        f"at a chance of {explanation.levels['guarded'] * 100:g} % of lying past it, a simple one at "
        f"{explanation.levels['simple'] * 100:g} %.",
        width,
    )
    if explanation.sizes:
        yield ""
        yield paint("Sizes of hoof and shoe")
        yield from _readings(explanation.sizes, book, width)
    for criterion in explanation.criteria:
        yield from _criterion(criterion, book, width, paint)
    yield ""
    yield paint("Decision")
    decision = explanation.decision
    yield from _wrapped("  ", decision.say, width)
    for title, names in (
        ("Decided by", decision.decided_by),
        ("Other findings", decision.other_findings),
        ("Still needed", decision.still_needed),
    ):
        if names:
            yield from _wrapped("  ", f"{title}: {', '.join(names)}.", width)


def _situation(situation: SituationExplained) -> str:
    hot = "hot fitted" if situation.hot_fitted == "yes" else "fitted cold"
    assumed = ", taken as such since it is not said" if situation.hot_fitted_assumed else ""
    words = (
        f"{situation.foot} foot",
        f"stage {situation.stage}",
        f"work {situation.work}",
        f"hoof form {situation.hoof_form}",
    )
    return f"What decides which limits apply: {', '.join(words)}, {hot}{assumed}.".replace("_", " ")


def _criterion(criterion: CriterionExplained, book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    standing = "required at this stage" if criterion.required else "not required at this stage"
    if not criterion.observable:
        standing = "not to be observed at this stage"
    yield ""
    yield paint(f"{criterion.title} ({standing})")
    yield from _readings(criterion.readings, book, width)
    if not criterion.readings:
        yield "  Nothing was read."
    for joined in criterion.joined:
        yield from _joined(joined, width)
    for needed in criterion.still_needed:
        yield from _wrapped("  ? ", f"Still needed: {needed.field}: {needed.say}", width)
    if criterion.not_assessed:
        yield from _wrapped("  ? ", f"Not assessed: {', '.join(criterion.not_assessed)}.", width)


def _readings(readings: tuple[ReadingExplained, ...], book: Rulebook, width: int) -> Iterator[str]:
    for title, group in groupby(readings, key=lambda reading: reading.title):
        yield from _wrapped("  ", f"{title[0].upper()}{title[1:]}", width)
        said: set[str] = set()
        for reading in group:
            yield from _wrapped("    ", f"At {place_title(reading.place, book)}: {_read(reading)}", width)
            for limit in reading.limits:
                yield from _wrapped(f"      {_MARKS[limit.outcome]} ", _limit(limit), width)
            # What is the same for one heel and the other, or for eight nails, is said once.
            elsewhere = [each for each in reading.elsewhere if f"{each.rule} {each.why}" not in said]
            for other in elsewhere:
                said.add(f"{other.rule} {other.why}")
                yield from _wrapped("        ", f"Not here: {other.rule} ({other.grade}). {other.why}", width)


def _read(reading: ReadingExplained) -> str:
    parts = [f"{_value(reading.value, reading.unit)}", reading.origin]
    if reading.u is not None:
        parts.insert(1, f"u {reading.u:.2g}")
    if reading.method:
        parts.append(reading.method)
    said = f"{', '.join(parts)}."
    if reading.where:
        said += f" {reading.where[0].upper()}{reading.where[1:]}."
    if reading.given is not None:
        method = f", {reading.given.method}" if reading.given.method else ""
        said += f" It stands instead of what was given: {_value(reading.given.value, reading.unit)}{method}."
    return said


def _value(value: float | str, unit: str | None) -> str:
    return value.replace("_", " ") if isinstance(value, str) else shown(value, unit or "1")


def _limit(limit: LimitConsidered) -> str:
    guarded = ", guarded" if limit.fires == "guarded" else ""
    applies = "" if limit.applies == "everywhere" else f" Applies here: {limit.applies}."
    standing = f"{limit.status}: {', '.join(limit.sources)}"
    besides = "".join(f" with {name} {' or '.join(words)}".replace("_", " ") for name, words in limit.only_with.items())
    return f"{limit.rule} ({limit.grade}{guarded}; {_fires(limit)}{besides}; {standing}).{applies} {limit.why}"


def _fires(limit: LimitConsidered) -> str:
    if limit.words:
        return f"on {' or '.join(limit.words).replace('_', ' ')}"
    unit = limit.unit or "1"
    ends = []
    for word, edge in (("below", limit.low), ("above", limit.high)):
        if edge is not None:
            ends.append(f"{'at or ' if limit.edge_fires else ''}{word} {_figure(edge, unit)}")
    said = " or ".join(ends)
    notes = [note for note in (limit.follows, limit.printed and f"printed as {limit.printed}") if note]
    return f"{said} ({'; '.join(notes)})".strip() if notes else said


def _figure(value: float, unit: str) -> str:
    return f"{value:g}{shown(0, unit).removeprefix('0')}"


def _joined(joined: JoinedConsidered, width: int) -> Iterator[str]:
    mark = _MARKS[joined.outcome]
    applies = "" if joined.applies == "everywhere" else f" Applies to {joined.applies}."
    standing = f"{joined.status}: {', '.join(joined.sources)}"
    why = joined.why if joined.outcome == "fired" else "Silent: not all its parts hold."
    yield from _wrapped(f"  {mark} ", f"Joined: {joined.rule} ({joined.grade}; {standing}).{applies} {why}", width)
    for clause in joined.clauses:
        yield from _wrapped(f"      {'+' if clause.holds else '-'} ", f"{clause.say}. {clause.why}", width)


def _wrapped(lead: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    )
