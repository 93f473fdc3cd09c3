"""A sheet of marks as plain text: the mark, each criterion with what was taken off and why, and what marks are not."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from fitcheck.marking.sheet import CriterionMark, MarkSheet, Tally
from fitcheck.report.terminal import Paint, indented, plain
from fitcheck.text.catalogue import ENGLISH, Messages, messages_in
from fitcheck.view import foot_title

__all__ = ["render_marks"]

_NAME: Final = 14


def render_marks(
    sheet: MarkSheet, *, title: str, width: int = 96, paint: Paint = plain, language: str = ENGLISH
) -> str:
    """The whole sheet as text of at most ``width`` columns (long words aside), ending in a newline."""
    return "\n".join(_lines(sheet, title, width, paint, messages_in(language))) + "\n"


def _lines(sheet: MarkSheet, title: str, width: int, paint: Paint, messages: Messages) -> Iterator[str]:
    yield paint(f"{title}: {foot_title(sheet.foot, sheet.stage, messages)}")
    yield from indented(
        "", messages.say("marks.decided", decision=messages.say(f"view.decision.{sheet.decision}")), width
    )
    if sheet.assessor is not None:
        yield ""
        yield paint(messages.say("marks.changed"))
        for change in sheet.changes:
            text = messages.say(
                "marks.change", assessor=change.assessor, about=change.about, say=change.say, reason=change.reason
            )
            yield from indented("  - ", text, width)
        yield from _tally("marks.by_assessor", sheet.assessor, messages, width, paint)
    yield from _tally("marks.by_tool" if sheet.assessor else "marks.alone", sheet.tool, messages, width, paint)
    yield ""
    for say in sheet.says:
        yield from indented("", say, width)
    yield from indented(
        "", messages.say("marks.marked_by", title=sheet.marked_by.title, version=sheet.marked_by.version), width
    )


def _tally(heading: str, tally: Tally, messages: Messages, width: int, paint: Paint) -> Iterator[str]:
    yield ""
    for number, text in enumerate(indented("", messages.say(heading, say=tally.say), width)):
        yield paint(text) if number == 0 else text
    named = max([_NAME, *(len(criterion.title) for criterion in tally.criteria)])
    for criterion in tally.criteria:
        yield from _criterion(criterion, messages, width, named)
    titles = {criterion.criterion: criterion.title for criterion in tally.criteria}
    for missing in tally.missing:
        where = missing.field or messages.say("marks.not_judged_by")
        named_so = messages.named("criterion", missing.criterion)
        title = messages.within(titles.get(missing.criterion, named_so))
        yield from indented("  - ", messages.say("marks.missing", criterion=title, where=where), width)


def _criterion(criterion: CriterionMark, messages: Messages, width: int, named: int) -> Iterator[str]:
    if criterion.mark is not None:
        marks = messages.say("marks.of", mark=messages.number(f"{criterion.mark:g}"), of=f"{criterion.of:g}")
    else:
        marks = messages.say("marks.of", mark="-", of=f"{criterion.of:g}") if criterion.of else "-"
    yield from indented("  ", f"{criterion.title:<{named}} {marks:<12} {criterion.why}", width)
    for finding in criterion.findings:
        yield from indented("      ", f"{finding.say} {finding.why} [{finding.finding}]", width)
