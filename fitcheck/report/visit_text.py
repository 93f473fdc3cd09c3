"""A visit as plain text: what its feet and pairs come to together, and what was found on the pairs."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.pairs.models import PairAssessment
from fitcheck.pairs.visit import VisitAssessment
from fitcheck.report.terminal import Paint, actions_lines, findings_lines, indented, listed, plain
from fitcheck.text.catalogue import Messages, capital, messages_of
from fitcheck.view import finding_views, visit_part
from rules import Rulebook

__all__ = ["render_visit"]


def render_visit(visit: VisitAssessment, book: Rulebook, *, width: int = 96, paint: Paint = plain) -> str:
    """What is said of the visit beyond its feet, as text of at most ``width`` columns, ending in a newline."""
    return "\n".join(_lines(visit, book, width, paint)) + "\n"


def _lines(visit: VisitAssessment, book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    messages = messages_of(book)
    feet = ", ".join(messages.named("foot", foot.foot) for foot in visit.feet)
    yield paint(messages.say("view.title_visit", visit=visit.visit or "", feet=feet))
    yield from indented("", paint(messages.say(f"report.visit.decides.{visit.decision}")), width)
    parts = ", ".join(visit_part(name, messages) for name in visit.decided_by)
    yield from indented("", messages.say("report.visit.comes_from", parts=parts), width)
    for pair in visit.pairs:
        if pair.feet:
            yield from _pair(pair, book, messages, width, paint)


def _pair(pair: PairAssessment, book: Rulebook, messages: Messages, width: int, paint: Paint) -> Iterator[str]:
    yield ""
    yield paint(capital(messages.say(f"report.visit.pair.{pair.pair}")))
    yield from findings_lines(finding_views(pair.findings, book), messages, width, paint)
    yield from actions_lines(pair.actions, messages, width, paint)
    if pair.compared and not pair.findings:
        yield from indented("  ", messages.say("report.visit.goes_together"), width)
    for each in pair.not_compared:
        yield from indented("  - ", each.say, width)
    if pair.findings:
        yield from listed("cautions", "  ! ", pair.cautions, messages, width, paint)
