"""An assessment as plain text: cautions first where it is grave, then what was found, what to do, what is missing."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from typing import Final

from fitcheck.assessment.models import Assessment
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.view import AssessmentView, FindingView, view_of
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


def render(
    assessment: Assessment,
    book: Rulebook,
    *,
    title: str,
    width: int = 96,
    paint: Paint = plain,
    whole: bool = False,
) -> str:
    """The assessment as text of at most ``width`` columns (long words aside), ending in a newline.

    Short unless ``whole``: what was not assessed is counted, and of the cautions only those that belong to what was
    found are told.
    """
    return "\n".join(_lines(assessment, book, title, width, paint, whole=whole)) + "\n"


def _lines(
    assessment: Assessment, book: Rulebook, title: str, width: int, paint: Paint, *, whole: bool
) -> Iterator[str]:
    messages, view = messages_of(book), view_of(assessment, book)
    told = view.cautions if whole else view.cautions_that_belong
    cautions = listed("cautions", "  ! ", told, messages, width, paint)
    yield paint(f"{title}: {view.title}")
    yield paint(view.decision)
    if assessment.decision == "stop_and_refer":
        yield from cautions
    yield from findings_lines(view.findings, messages, width, paint, whole=whole)
    yield from actions_lines(view.actions, messages, width, paint)
    yield from listed("still_needed", "  - ", [needed.text for needed in view.needed], messages, width, paint)
    for name in ("better", "worse", "left", "earlier"):
        yield from listed(f"retry.{name}", "  - ", getattr(view.before, name), messages, width, paint)
    if whole:
        yield from listed("left_out", "  - ", view.remarks, messages, width, paint)
    if assessment.decision != "stop_and_refer":
        yield from cautions
    yield ""
    for said in _besides(view, len(assessment.conforms), messages, whole=whole):
        yield from indented("", said, width)


def _besides(view: AssessmentView, conforming: int, messages: Messages, *, whole: bool) -> Iterator[str]:
    """What there is to say besides: what stands from before and what is missing, the next visit, who judged."""
    if view.before.carried:
        yield messages.say("view.carried_names", names=", ".join(view.before.carried))
    if whole and view.unobserved_besides:
        yield messages.say("view.unobserved_names", names="; ".join(view.unobserved_besides))
    elif view.unobserved_counted:
        yield messages.say("view.unobserved_briefly", names=", ".join(view.unobserved_counted))
    if whole and view.not_judged:
        yield messages.say("view.not_judged_names", names="; ".join(view.not_judged))
    if view.next_visit:
        yield view.next_visit
    said = f"{messages.counted('view.conforms', conforming)}. {view.judged_by}"
    yield said if whole else f"{said} {messages.say('view.more')}"


def findings_lines(
    findings: Sequence[FindingView], messages: Messages, width: int, paint: Paint, *, whole: bool = True
) -> Iterator[str]:
    """What was found on a foot or a pair, each with its measure, place, certainty and reason, under its heading."""
    known = set() if whole else {finding.id for finding in findings}
    for finding in findings:
        if finding.number == 1:
            yield ""
            yield paint(messages.say("view.found_with_u"))
        yield from _finding(finding, messages, width, known, whole=whole)


def actions_lines(actions: Iterable[str], messages: Messages, width: int, paint: Paint) -> Iterator[str]:
    """What to do, numbered, under its heading."""
    for number, action in enumerate(actions, 1):
        if number == 1:
            yield ""
            yield paint(messages.say("view.actions"))
        yield from indented(f"{number:>3}. ", action, width)


def _finding(finding: FindingView, messages: Messages, width: int, known: set[str], *, whole: bool) -> Iterator[str]:
    """The lines of one finding; unless ``whole`` nothing that is ``known`` (findings by id, reasons) is told again."""
    yield from indented(f"{finding.grade_word:<{len(_INDENT)}}", finding.text, width)
    why = f"{finding.why} {finding.sources}"
    basis = finding.basis if whole or not _is_complete(finding, known) else ""
    measured = " ".join(part for part in (basis, finding.limit, finding.sure, finding.where) if part)
    for line in (measured, finding.carried, why if whole or why not in known else ""):
        if line:
            yield from indented(_INDENT, line, width)
    known.add(why)
    if finding.grade == "minor":
        yield from indented(_INDENT, messages.say("view.note", action=finding.action), width)


def _is_complete(finding: FindingView, known: Collection[str]) -> bool:
    """Whether the finding's sentence tells all that it is based on: a word of the eye, or findings in the list."""
    measured = finding.finding.measured
    if measured is None:
        return all(name in known for name in finding.finding.rests_on)
    return isinstance(measured.value, str)


def listed(
    heading: str, lead: str, texts: Iterable[str], messages: Messages, width: int, paint: Paint
) -> Iterator[str]:
    """``texts`` one under another, each beginning with ``lead``, under their heading; nothing without texts."""
    for number, text in enumerate(texts):
        if number == 0:
            yield ""
            yield paint(messages.say(f"view.{heading}"))
        yield from indented(lead, text, width)
