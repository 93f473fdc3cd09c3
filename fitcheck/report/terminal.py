"""An assessment as plain text: cautions first where it is grave, then what was found, what to do, what is missing."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Iterator
from typing import Final

from fitcheck.assessment.models import Assessment
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.view import FindingView, view_of
from rules import Rulebook

__all__ = ["Paint", "actions_lines", "findings_lines", "indented", "listed", "plain", "render", "strong"]

Paint = Callable[[str], str]
"""Makes a heading stand out; :func:`plain` leaves it as it is."""

_INDENT: Final = " " * 10


def plain(text: str) -> str:
    """``text`` as it is."""
    return text


def strong(text: str) -> str:
    """``text`` in bold, for a terminal."""
    return f"\x1b[1m{text}\x1b[0m"


def indented(lead: str, text: str, width: int) -> list[str]:
    """``text`` in lines of at most ``width`` columns (long words aside); the first begins with ``lead``."""
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    ) or [lead.rstrip()]


def render(assessment: Assessment, book: Rulebook, *, title: str, width: int = 96, paint: Paint = plain) -> str:
    """The whole assessment as text of at most ``width`` columns (long words aside), ending in a newline."""
    return "\n".join(_lines(assessment, book, title, width, paint)) + "\n"


def _lines(assessment: Assessment, book: Rulebook, title: str, width: int, paint: Paint) -> Iterator[str]:
    messages, view = messages_of(book), view_of(assessment, book)
    cautions = listed("cautions", "  ! ", view.cautions, messages, width, paint)
    yield paint(f"{title}: {view.title}")
    yield paint(view.decision)
    if assessment.decision == "stop_and_refer":
        yield from cautions
    yield from findings_lines(view.findings, messages, width, paint)
    yield from actions_lines(view.actions, messages, width, paint)
    yield from listed("still_needed", "  - ", [needed.text for needed in view.needed], messages, width, paint)
    if view.unobserved_besides:
        yield ""
        yield from indented("", messages.say("view.unobserved_names", names="; ".join(view.unobserved_besides)), width)
    if view.not_judged:
        yield ""
        yield from indented("", messages.say("view.not_judged_names", names="; ".join(view.not_judged)), width)
    for name in ("better", "worse", "left", "earlier"):
        yield from listed(f"retry.{name}", "  - ", getattr(view.before, name), messages, width, paint)
    if view.before.carried:
        yield ""
        yield from indented("", messages.say("view.carried_names", names=", ".join(view.before.carried)), width)
    if view.next_visit:
        yield ""
        yield from indented("", view.next_visit, width)
    yield from listed("left_out", "  - ", view.remarks, messages, width, paint)
    if assessment.decision != "stop_and_refer":
        yield from cautions
    yield ""
    conforms = messages.counted("view.conforms", len(assessment.conforms))
    yield from indented("", f"{conforms}. {view.judged_by}", width)


def findings_lines(findings: Iterable[FindingView], messages: Messages, width: int, paint: Paint) -> Iterator[str]:
    """What was found on a foot or a pair, each with its measure, place, certainty and reason, under its heading."""
    for finding in findings:
        if finding.number == 1:
            yield ""
            yield paint(messages.say("view.found_with_u"))
        yield from _finding(finding, messages, width)


def actions_lines(actions: Iterable[str], messages: Messages, width: int, paint: Paint) -> Iterator[str]:
    """What to do, numbered, under its heading."""
    for number, action in enumerate(actions, 1):
        if number == 1:
            yield ""
            yield paint(messages.say("view.actions"))
        yield from indented(f"{number:>3}. ", action, width)


def _finding(finding: FindingView, messages: Messages, width: int) -> Iterator[str]:
    yield from indented(f"{finding.grade_word:<{len(_INDENT)}}", finding.text, width)
    basis = f"{finding.basis} {finding.limit}".rstrip()
    for line in (basis, finding.where, finding.carried, finding.sure, f"{finding.why} {finding.sources}"):
        if line:
            yield from indented(_INDENT, line, width)
    if finding.grade == "minor":
        yield from indented(_INDENT, messages.say("view.note", action=finding.action), width)


def listed(
    heading: str, lead: str, texts: Iterable[str], messages: Messages, width: int, paint: Paint
) -> Iterator[str]:
    """``texts`` one under another, each beginning with ``lead``, under their heading; nothing without texts."""
    for number, text in enumerate(texts):
        if number == 0:
            yield ""
            yield paint(messages.say(f"view.{heading}"))
        yield from indented(lead, text, width)
