"""A sheet of marks as plain text: the mark, each criterion with what was taken off and why, and what marks are not."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Final

from fitcheck.marking.sheet import CriterionMark, MarkSheet, Tally
from fitcheck.report.terminal import Paint, plain

__all__ = ["render_marks"]

_DECISIONS: Final = {
    "release": "release",
    "put_right": "put right before this foot leaves",
    "stop_and_refer": "stop and refer",
    "incomplete": "incomplete, no release",
}
_NAME: Final = 14


def render_marks(sheet: MarkSheet, *, title: str, width: int = 96, paint: Paint = plain) -> str:
    """The whole sheet as text of at most ``width`` columns (long words aside), ending in a newline."""
    return "\n".join(_lines(sheet, title, width, paint)) + "\n"


def _lines(sheet: MarkSheet, title: str, width: int, paint: Paint) -> Iterator[str]:
    stage = {"hot_fit": "tried hot", "nailed": "nailed", "finished": "finished"}[sheet.stage]
    yield paint(f"{title}: {sheet.foot.replace('_', ' ')}, {stage}")
    yield from _wrapped("", f"Decision on the foot: {_DECISIONS[sheet.decision]}.", width)
    if sheet.assessor is not None:
        yield ""
        yield paint("Changed by assessors")
        for change in sheet.changes:
            said = f"{change.assessor}: {change.about}. {change.say} Reason: {change.reason}"
            yield from _wrapped("  - ", said, width)
        yield from _tally("Marks, as the assessor has it", sheet.assessor, width, paint)
    yield from _tally("Marks, as the tool has it" if sheet.assessor else "Marks", sheet.tool, width, paint)
    yield ""
    for say in sheet.says:
        yield from _wrapped("", say, width)
    yield from _wrapped("", f"Marked by {sheet.marked_by.title}, {sheet.marked_by.version}.", width)


def _tally(heading: str, tally: Tally, width: int, paint: Paint) -> Iterator[str]:
    yield ""
    for number, text in enumerate(_wrapped("", f"{heading}: {tally.say}", width)):
        yield paint(text) if number == 0 else text
    for criterion in tally.criteria:
        yield from _criterion(criterion, width)
    for missing in tally.missing:
        where = missing.field or "not required by the rulebook that judged the foot"
        yield from _wrapped("  - ", f"missing: {missing.criterion.replace('_', ' ')} ({where})", width)


def _criterion(criterion: CriterionMark, width: int) -> Iterator[str]:
    if criterion.mark is not None:
        marks = f"{criterion.mark:g} of {criterion.of:g}"
    else:
        marks = f"- of {criterion.of:g}" if criterion.of else "-"
    yield from _wrapped("  ", f"{criterion.title:<{_NAME}} {marks:<12} {criterion.why}", width)
    for finding in criterion.findings:
        yield from _wrapped("      ", f"{finding.say} {finding.why} [{finding.finding}]", width)


def _wrapped(lead: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    ) or [lead.rstrip()]
