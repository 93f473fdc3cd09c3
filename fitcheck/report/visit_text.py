"""A visit as plain text: what its feet and pairs come to together, and what was found on the pairs."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.pairs.models import PairAssessment
from fitcheck.pairs.visit import VisitAssessment
from fitcheck.report.terminal import Paint, cautions_lines, findings_lines, plain, wrapped
from fitcheck.text.catalogue import Messages, messages_of
from rules import Rulebook

__all__ = ["render_visit"]


def render_visit(visit: VisitAssessment, book: Rulebook, *, width: int = 96, paint: Paint = plain) -> str:
    """What is said of the visit beyond its feet, as text of at most ``width`` columns, ending in a newline."""
    return "\n".join(_lines(visit, book, width, paint)) + "\n"


def _lines(visit: VisitAssessment, book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    messages = messages_of(book)
    feet = messages.joined([messages.named("foot", foot.foot) for foot in visit.feet], "missing")
    yield paint(messages.say("report.visit.title", visit=visit.visit or "", feet=feet))
    yield paint(messages.say(f"report.visit.{visit.decision}"))
    names = messages.joined([_part(name, messages) for name in visit.decided_by], "and")
    yield from wrapped("", messages.say("why.decided_by", names=names), width)
    for pair in visit.pairs:
        if pair.feet:
            yield from _pair(pair, book, width, paint)


def _pair(pair: PairAssessment, book: Rulebook, width: int, paint: Paint) -> Iterator[str]:
    messages = messages_of(book)
    yield ""
    yield paint(messages.say(f"report.visit.{pair.pair}_pair"))
    yield from findings_lines(pair.findings, book, width, paint)
    for number, action in enumerate(pair.actions, 1):
        yield from wrapped(f"{number:>3}. ", action, width)
    for each in pair.not_compared:
        yield from wrapped("  - ", each.say, width)
    if pair.compared and not pair.findings:
        yield from wrapped("  - ", messages.counted("report.visit.nothing_found", len(pair.conforms)), width)
    if pair.findings:
        yield from cautions_lines(pair.cautions, messages, width, paint)


def _part(name: str, messages: Messages) -> str:
    """A foot or a pair as in ``VisitAssessment.decided_by``."""
    kind, _, pair = name.partition(":")
    return messages.say(f"marks.{pair}_pair") if kind == "pair" else messages.named("foot", name)
