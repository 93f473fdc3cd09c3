"""An assessment as plain text: cautions first where it is grave, then what was found, what to do, what is missing."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from typing import Final

from fitcheck.assessment import Assessment, Finding
from fitcheck.sentences import place_title, shown
from rules import Rulebook

__all__ = ["Paint", "plain", "render", "strong"]

Paint = Callable[[str], str]
"""Makes a heading stand out; :func:`plain` leaves it as it is."""

_DECISIONS: Final = {
    "release": "RELEASE: nothing found that must be put right.",
    "put_right": "PUT RIGHT before this foot leaves.",
    "stop_and_refer": "STOP AND REFER: have the foot examined before any more work on it.",
    "incomplete": "INCOMPLETE: not enough was observed to release this foot.",
}
_GRADES: Final = {"critical": "CRITICAL", "major": "MAJOR", "minor": "minor"}
_INDENT: Final = " " * 10
_CERTAIN: Final = 0.995


def plain(text: str) -> str:
    """``text`` as it is."""
    return text


def strong(text: str) -> str:
    """``text`` in bold, for a terminal."""
    return f"\x1b[1m{text}\x1b[0m"


def render(assessment: Assessment, book: Rulebook, *, title: str, width: int = 96, paint: Paint = plain) -> str:
    """The whole assessment as text of at most ``width`` columns (long words aside), ending in a newline."""
    lines = list(_lines(assessment, book, title, width, paint))
    return "\n".join(lines) + "\n"


def _lines(assessment: Assessment, book: Rulebook, title: str, width: int, paint: Paint) -> Iterator[str]:
    stage = {"hot_fit": "tried hot", "nailed": "nailed", "finished": "finished"}[assessment.stage]
    yield paint(f"{title}: {assessment.foot.replace('_', ' ')}, {stage}")
    yield paint(_DECISIONS[assessment.decision])
    if assessment.decision == "stop_and_refer":
        yield from _cautions(assessment, width, paint)
    yield from _findings(assessment, book, width, paint)
    if assessment.actions:
        yield ""
        yield paint("What to do, in this order")
        for number, action in enumerate(assessment.actions, 1):
            yield from _wrapped(f"{number:>3}. ", action, width)
    yield from _missing(assessment, width, paint)
    if assessment.next_due is not None:
        yield ""
        yield from _wrapped("", assessment.next_due.say, width)
    yield from _left_out(assessment, width, paint)
    if assessment.decision != "stop_and_refer":
        yield from _cautions(assessment, width, paint)
    yield ""
    yield from _wrapped(
        "",
        f"{len(assessment.conforms)} readings lie within their limits. Rulebook {book.title}, {book.version}.",
        width,
    )


def _findings(assessment: Assessment, book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    if not assessment.findings:
        return
    yield ""
    yield paint("Found")
    for finding in assessment.findings:
        yield from _wrapped(f"{_GRADES[finding.grade]:<{len(_INDENT)}}", finding.finding, width)
        for line in (_measure_line(finding, book), _where(finding), _how_sure(finding), f"Why: {finding.why}"):
            if line:
                yield from _wrapped(_INDENT, line, width)
        if finding.grade == "minor":
            yield from _wrapped(_INDENT, f"Note: {finding.action}", width)


def _measure_line(finding: Finding, book: Rulebook) -> str:
    measured, limit = finding.measured, finding.limit
    if measured is None:
        names = [_based_on(name, book) for name in finding.rests_on]
        return f"Rests on: {'; '.join(names)}."
    if isinstance(measured.value, str) or limit is None or measured.unit is None:
        return f"Seen: {measured.quantity.replace('_', ' ')} {measured.value}."
    unit = measured.unit
    value = f"{measured.quantity.replace('_', ' ')} {shown(measured.value, unit)}"
    if measured.u:
        value += f" (standard uncertainty {measured.u:.2g})"
    if limit.low is not None and limit.high is not None:
        allowed = f"{shown(limit.low, unit)} to {shown(limit.high, unit)}"
    elif limit.low is not None:
        allowed = f"{shown(limit.low, unit)} or more"
    else:
        allowed = f"{shown(limit.high or 0.0, unit)} or less"
    return f"Measured: {value}; limit {allowed} ({finding.status})."


def _where(finding: Finding) -> str:
    if finding.measured is None or not finding.measured.where:
        return ""
    where = finding.measured.where
    return f"Where: {where[0].lower()}{where[1:]}."


def _based_on(name: str, book: Rulebook) -> str:
    what, _, place = name.partition("@")
    return f"{what.replace('_', ' ')} at {place_title(place, book)}"


def _how_sure(finding: Finding) -> str:
    if finding.measured is not None and isinstance(finding.measured.value, str):
        return ""
    if finding.confidence >= _CERTAIN:
        return "How sure: more than 99 %."
    percent = f"{finding.confidence * 100:.0f} %"
    if finding.grade == "critical":
        return f"How sure: {percent}. A harm this grave is acted on even where it is unlikely."
    return f"How sure: {percent}."


def _missing(assessment: Assessment, width: int, paint: Paint) -> Iterator[str]:
    if assessment.still_needed:
        yield ""
        yield paint("Still needed before release")
        for needed in assessment.still_needed:
            yield from _wrapped("  - ", f"{needed.field}: {needed.say}", width)
    others = [
        name
        for name in assessment.not_assessed
        if not any(name == needed.criterion for needed in assessment.still_needed)
    ]
    if others:
        yield ""
        yield from _wrapped("", f"Not assessed: {', '.join(others)}.", width)


def _left_out(assessment: Assessment, width: int, paint: Paint) -> Iterator[str]:
    if assessment.remarks:
        yield ""
        yield paint("What the sums leave out")
        for remark in assessment.remarks:
            yield from _wrapped("  - ", remark, width)


def _cautions(assessment: Assessment, width: int, paint: Paint) -> Iterator[str]:
    yield ""
    yield paint("Cautions")
    for caution in assessment.cautions:
        yield from _wrapped("  ! ", caution, width)


def _wrapped(lead: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    ) or [lead.rstrip()]
