"""An assessment as plain text: cautions first where it is grave, then what was found, what to do, what is missing."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from fitcheck.assessment.models import Assessment, Finding
from fitcheck.text.catalogue import ENGLISH, Messages, messages_of
from fitcheck.text.format import lacking_title, place_title, shown
from rules import Rulebook

__all__ = ["Paint", "cautions_lines", "findings_lines", "plain", "render", "strong", "wrapped"]

Paint = Callable[[str], str]
"""Makes a heading stand out; :func:`plain` leaves it as it is."""

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
    messages = messages_of(book)
    foot, stage = messages.named("foot", assessment.foot), messages.say(f"report.stage.{assessment.stage}")
    yield paint(messages.say("report.title", title=title, foot=foot, stage=stage))
    yield paint(messages.say(f"report.decision.{assessment.decision}"))
    if assessment.decision == "stop_and_refer":
        yield from cautions_lines(assessment.cautions, messages, width, paint)
    yield from findings_lines(assessment.findings, book, width, paint)
    if assessment.actions:
        yield ""
        yield paint(messages.say("report.actions"))
        for number, action in enumerate(assessment.actions, 1):
            yield from wrapped(f"{number:>3}. ", action, width)
    yield from _missing(assessment, book, width, paint)
    if assessment.next_due is not None:
        yield ""
        yield from wrapped("", assessment.next_due.say, width)
    yield from _left_out(assessment, messages, width, paint)
    if assessment.decision != "stop_and_refer":
        yield from cautions_lines(assessment.cautions, messages, width, paint)
    yield ""
    conforms = len(assessment.conforms)
    yield from wrapped(
        "", messages.say("report.conforms", count=conforms, title=book.title, version=book.version), width
    )


def findings_lines(findings: Sequence[Finding], book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    """What was found, each with its measure, place, certainty and reason; nothing where nothing was."""
    if not findings:
        return
    yield ""
    messages = messages_of(book)
    yield paint(messages.say("report.found"))
    for finding in findings:
        grade = messages.say(f"report.grade.{finding.grade}")
        why = messages.say("report.why", why=finding.why)
        yield from wrapped(f"{grade:<{len(_INDENT)}}", finding.finding, width)
        for line in (_measure_line(finding, book), _where(finding, messages), _how_sure(finding, messages), why):
            if line:
                yield from wrapped(_INDENT, line, width)
        if finding.grade == "minor":
            yield from wrapped(_INDENT, messages.say("report.note", action=finding.action), width)


def _measure_line(finding: Finding, book: Rulebook) -> str:
    measured, limit, messages = finding.measured, finding.limit, messages_of(book)
    if measured is None:
        names = [_based_on(name, book) for name in finding.rests_on]
        return messages.say("report.rests_on", names="; ".join(names))
    quantity = messages.named("quantity", measured.quantity)
    if isinstance(measured.value, str) or limit is None or measured.unit is None:
        word = messages.word(str(measured.value), spaced=False)
        return messages.say("report.seen", quantity=quantity, word=word)
    unit = measured.unit
    value = shown(measured.value, unit, messages.language)
    if measured.u:
        value = messages.say("report.with_u", value=value, u=messages.number(f"{measured.u:.2g}"))
    low, high = (shown(end or 0.0, unit, messages.language) for end in (limit.low, limit.high))
    if limit.low is not None and limit.high is not None:
        allowed = messages.say("report.from_to", low=low, high=high)
    else:
        allowed = messages.say("report.or_less" if limit.low is None else "report.or_more", low=low, high=high)
    status = messages.named("status", finding.status)
    return messages.say("report.measured", quantity=quantity, value=value, allowed=allowed, status=status)


def _where(finding: Finding, messages: Messages) -> str:
    if finding.measured is None or not finding.measured.where:
        return ""
    where = finding.measured.where
    if messages.language == ENGLISH:  # elsewhere a phrase may begin with a noun
        where = f"{where[0].lower()}{where[1:]}"
    return messages.say("report.where", where=where)


def _based_on(name: str, book: Rulebook) -> str:
    what, _, place = name.partition("@")
    messages = messages_of(book)
    name = messages.named("quantity", what)
    return messages.say("phrase.at", what=name, place=place_title(place, book))


def _how_sure(finding: Finding, messages: Messages) -> str:
    if finding.measured is not None and isinstance(finding.measured.value, str):
        return ""
    if finding.confidence >= _CERTAIN:
        return messages.say("report.sure", percent=messages.say("sure.certain"))
    percent = messages.say("sure.percent", percent=f"{finding.confidence * 100:.0f}")
    if finding.grade == "critical":
        return messages.say("report.sure_enough", percent=percent)
    return messages.say("report.sure", percent=percent)


def _missing(assessment: Assessment, book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    messages = messages_of(book)
    if assessment.still_needed:
        yield ""
        yield paint(messages.say("report.still_needed"))
        for needed in assessment.still_needed:
            yield from wrapped("  - ", f"{needed.field}: {needed.say}", width)
    others = [
        lacking_title(name, book)
        for name in assessment.not_assessed
        if not any(name == needed.criterion for needed in assessment.still_needed)
    ]
    if others:
        yield ""
        yield from wrapped("", messages.say("report.not_assessed", names=messages.joined(others, "missing")), width)


def _left_out(assessment: Assessment, messages: Messages, width: int, paint: Paint) -> Iterator[str]:
    if assessment.remarks:
        yield ""
        yield paint(messages.say("report.left_out"))
        for remark in assessment.remarks:
            yield from wrapped("  - ", remark, width)


def cautions_lines(cautions: Sequence[str], messages: Messages, width: int, paint: Paint) -> Iterator[str]:
    """The cautions under their heading."""
    yield ""
    yield paint(messages.say("report.cautions"))
    for caution in cautions:
        yield from wrapped("  ! ", caution, width)


def wrapped(lead: str, text: str, width: int) -> list[str]:
    """``text`` after ``lead`` in lines of at most ``width`` columns, those after the first set in under it."""
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    ) or [lead.rstrip()]
