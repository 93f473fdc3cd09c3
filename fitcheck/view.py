"""An assessed foot as it is told, each thing said once: terminal, HTML report and drawing take their words from here.

Findings, actions and cautions stand as they were answered, in their own language; what is said around them, and what
criteria, quantities and places are called, is in the language of the rulebook that is given.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from fitcheck.assessment.brief import belonging
from fitcheck.assessment.models import Assessment, Finding, LimitView, RetryChange
from fitcheck.text.catalogue import Messages, capital, messages_of
from fitcheck.text.format import (
    CERTAIN,
    chance_text,
    criterion_title,
    place_name,
    place_title,
    quantity_title,
    range_shown,
    shown,
    unobserved_title,
)
from rules import Rulebook
from rules.model.records import Grade

__all__ = [
    "AssessmentView",
    "BeforeView",
    "FindingView",
    "NeededView",
    "finding_views",
    "foot_title",
    "view_of",
    "visit_part",
]


class FindingView(NamedTuple):
    """One finding as it is told; what has nothing to say is empty."""

    number: int
    """Its place in the list, the gravest first; the same in lists and drawings."""
    id: str
    grade: Grade
    grade_word: str
    criterion: str
    place: str
    """As it is called within a sentence."""
    place_name: str
    """As it is called at the begin of a line."""
    text: str
    action: str
    caution: str
    basis: str
    """What was measured with its standard uncertainty, what was seen, or what it rests on: a sentence."""
    limit: str
    """What would have been let pass: a sentence."""
    where: str
    carried: str
    """That it rests on what was observed before: a sentence."""
    sure: str
    why: str
    sources: str
    finding: Finding


class NeededView(NamedTuple):
    """One thing to observe before the foot can be released."""

    criterion: str
    field: str
    say: str
    text: str
    """All of it in one line."""


class BeforeView(NamedTuple):
    """What is told of the assessments that it follows; nothing without one."""

    carried: tuple[str, ...]
    """The parts of the fitting of which something was carried, by their titles."""
    earlier: tuple[str, ...]
    """What was found then and could not be undone, as it was told."""
    better: tuple[str, ...]
    worse: tuple[str, ...]
    left: tuple[str, ...]
    """What a second try made of each thing."""


class AssessmentView(NamedTuple):
    """What is told of one assessed foot."""

    title: str
    decision: str
    findings: tuple[FindingView, ...]
    actions: tuple[str, ...]
    cautions: tuple[str, ...]
    cautions_that_belong: tuple[str, ...]
    """Those of what was found, and that nothing here is a diagnosis; all, where the judging book has no such one."""
    needed: tuple[NeededView, ...]
    unobserved: tuple[str, ...]
    """What was not assessed, by its titles: first what belongs to a criterion of which something is still needed."""
    unobserved_besides: tuple[str, ...]
    """The same without the criteria of which something is still needed."""
    unobserved_counted: tuple[str, ...]
    """The criteria of the same: each alone, or with how many of its readings were left out."""
    not_judged: tuple[str, ...]
    """What was sent and no rule judges, by its titles."""
    remarks: tuple[str, ...]
    next_visit: str
    judged_by: str
    before: BeforeView


def view_of(assessment: Assessment, book: Rulebook) -> AssessmentView:
    """``assessment`` as it is told in the language of ``book``, which need not be the one that judged."""
    messages = messages_of(book)
    needed_criteria = {need.criterion for need in assessment.still_needed}
    besides = tuple(name for name in assessment.not_assessed if name not in needed_criteria)
    return AssessmentView(
        title=foot_title(assessment.foot, assessment.stage, messages),
        decision=messages.say(f"view.decision.{assessment.verdict}"),
        findings=finding_views(assessment.findings, book),
        actions=assessment.actions,
        cautions=assessment.cautions,
        cautions_that_belong=tuple(belonging(assessment.cautions, assessment.findings, book)),
        needed=tuple(_needed(need.criterion, need.field, need.say, book) for need in assessment.still_needed),
        unobserved=_unobserved(
            sorted(assessment.not_assessed, key=lambda name: name.partition(".")[0] not in needed_criteria), book
        ),
        unobserved_besides=_unobserved(besides, book),
        unobserved_counted=tuple(_counted(besides, book)),
        not_judged=tuple(dict.fromkeys(_not_judged(assessment, book))),
        remarks=assessment.remarks,
        next_visit="" if assessment.next_due is None else assessment.next_due.say,
        judged_by=messages.say("view.judged_by", title=assessment.rulebook.title, version=assessment.rulebook.version),
        before=_before(assessment, book),
    )


def _counted(names: Collection[str], book: Rulebook) -> Iterator[str]:
    counts = Counter(name.partition(".")[0] for name in names if "." in name)
    whole = dict.fromkeys(name.partition(".")[0] for name in names)
    for criterion in whole:
        title, count = criterion_title(criterion, book), counts[criterion]
        yield messages_of(book).say("view.unobserved_count", criterion=title, count=f"{count}") if count else title


def _before(assessment: Assessment, book: Rulebook) -> BeforeView:
    messages, retry = messages_of(book), assessment.retry
    parts = (each.field.removeprefix("observations.").partition(".")[0] for each in assessment.carried or ())
    return BeforeView(
        carried=tuple(messages.named("view.part", part) for part in dict.fromkeys(parts)),
        earlier=tuple(each.finding.finding for each in assessment.earlier_findings or ()),
        better=() if retry is None else tuple(_change(each, book) for each in retry.better),
        worse=() if retry is None else tuple(_change(each, book) for each in retry.worse),
        left=() if retry is None else tuple(_change(each, book) for each in retry.left),
    )


def _change(change: RetryChange, book: Rulebook) -> str:
    messages = messages_of(book)
    # A joined finding is told by its criterion: it has no quantity, and its rule's name is none for people.
    title = (
        criterion_title(change.criterion, book) if change.quantity is None else quantity_title(change.quantity, book)
    )
    what = title if change.place == "foot" else f"{place_title(change.place, book)}, {title}"
    outcomes = {name: messages.say(f"view.outcome.{getattr(change, name)}") for name in ("before", "now")}
    return messages.say("view.change", what=capital(what), **outcomes)


def _not_judged(assessment: Assessment, book: Rulebook) -> Iterator[str]:
    for each in assessment.unassessed or ():
        if each.why == "not_judged":
            title = quantity_title(each.quantity, book)
            place = place_title(each.place, book)
            yield title if each.place == "foot" else messages_of(book).say("phrase.at", what=title, place=place)


def foot_title(foot: str, stage: str, messages: Messages) -> str:
    """Which foot it is, and how far the work on it had come."""
    return messages.say(
        "view.title", foot=capital(messages.named("foot", foot)), stage=messages.say(f"view.stage.{stage}")
    )


def visit_part(name: str, messages: Messages) -> str:
    """A foot or a pair as in ``VisitAssessment.decided_by``."""
    kind, _, which = name.partition(":")
    return messages.say(f"report.visit.pair.{which}") if kind == "pair" and which else messages.named("foot", name)


def finding_views(findings: Iterable[Finding], book: Rulebook) -> tuple[FindingView, ...]:
    """Findings of a foot or a pair in their order, numbered from 1 on."""
    messages = messages_of(book)
    return tuple(
        FindingView(
            number=number,
            id=each.id,
            grade=each.grade,
            grade_word=messages.say(f"view.grade.{each.grade}"),
            criterion=criterion_title(each.criterion, book),
            place=place_title(each.place, book),
            place_name=capital(place_name(each.place, book)),
            text=each.finding,
            action=each.action,
            caution=each.caution,
            basis=_basis(each, book),
            limit="" if each.limit is None else _limit(each.limit, messages),
            where=_where(each, messages),
            carried=messages.say("view.carried_finding") if each.carried else "",
            sure=_sure(each, messages),
            why=messages.say("view.why", why=each.why),
            sources=messages.say(
                "view.sources", sources=", ".join(each.sources), status=messages.named("status", each.status)
            ),
            finding=each,
        )
        for number, each in enumerate(findings, 1)
    )


def _basis(finding: Finding, book: Rulebook) -> str:
    measured, messages = finding.measured, messages_of(book)
    if measured is None:
        return messages.say("view.rests_on", names="; ".join(_based_on(name, book) for name in finding.rests_on))
    if isinstance(measured.value, str):
        value = messages.word(measured.value)
    elif measured.low is not None and measured.high is not None:
        value = range_shown(measured.low, measured.high, measured.unit or "1", messages.language)
    else:
        value = shown(measured.value, measured.unit or "1", messages.language, u=measured.u)
    return messages.say("view.reading", quantity=capital(quantity_title(measured.quantity, book)), value=value)


def _based_on(name: str, book: Rulebook) -> str:
    """A finding, by its rule, or a reading, at its place."""
    what, _, place = name.partition("@")
    title = quantity_title(what, book) if what in book.quantities else what
    return title if place == "foot" else messages_of(book).say("phrase.at", what=title, place=place_title(place, book))


def _limit(limit: LimitView, messages: Messages) -> str:
    low, high = ("" if end is None else shown(end, limit.unit, messages.language) for end in (limit.low, limit.high))
    if low and high:
        return messages.say("view.limit_between", low=low, high=high)
    if low:
        return messages.say("view.limit_low", low=low)
    return messages.say("view.limit_high", high=high) if high else ""


def _where(finding: Finding, messages: Messages) -> str:
    where = "" if finding.measured is None else finding.measured.where
    return messages.say("view.where", where=where) if where else ""


def _sure(finding: Finding, messages: Messages) -> str:
    """How probable it is that the true value lies beyond the limit."""
    if finding.confidence is None or (finding.measured is not None and isinstance(finding.measured.value, str)):
        return ""
    unlikely = finding.grade == "critical" and finding.confidence < CERTAIN
    percent = chance_text(finding.confidence, messages)
    return messages.say("view.sure_enough" if unlikely else "view.sure", percent=percent)


def _needed(criterion: str, field: str, say: str, book: Rulebook) -> NeededView:
    title = criterion_title(criterion, book)
    text = messages_of(book).say("view.needed", criterion=title, say=say, field=field)
    return NeededView(title, field, say, text)


def _unobserved(names: Iterable[str], book: Rulebook) -> tuple[str, ...]:
    return tuple(dict.fromkeys(unobserved_title(name, book) for name in names))
