"""How far two raters agree over kept records, as figures, sentences and the feet on which they differ."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from fitcheck.agreement import (
    TOOL,
    Comparison,
    Difference,
    Kappa,
    NotComputed,
    OnCriterion,
    Share,
    Subject,
    compare,
    comparison_sentences,
    most_disagreed,
)
from fitcheck.agreement.comparison import WORST
from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.agreement.kappa import Weights
from fitcheck.assessment.models import Output
from fitcheck.errors import BadInput, Problem
from fitcheck.records import Store
from fitcheck.stored.judgements import TOOL_NAME, Judged, Judgements, judgements_by_both
from fitcheck.text.catalogue import Messages, messages_of
from rules import Rulebook

__all__ = ["Agreement", "rater_report"]

_MOST_SHOWN: Final = 500


class Figure(Output):
    """A figure with its 95 % interval, or the reason why there is none."""

    value: float | None
    low: float | None
    high: float | None
    why: str | None
    """Why there is no figure; null where there is one."""


class ShareOf(Output):
    """How many of how many, with the share and its 95 % interval; the reason where there is nothing to count."""

    part: int
    whole: int
    share: Figure


class CriterionAgreement(Output):
    """How two raters agree on one criterion, over the feet on which both judged it."""

    criterion: str
    """Its id; "worst of all" for the worst grade of each foot."""
    title: str
    same: ShareOf
    """Feet of the same grade."""
    kappa: dict[Weights, Figure]
    """Without weights, and by the steps between grades or their square."""
    first_graver: int
    second_graver: int
    only_first: int
    """Feet of both on which only the first judged this criterion."""
    only_second: int


class JudgementBasis(Output):
    """What a judgement rests on."""

    grade: JudgedGrade
    assessment: str
    """The id of the assessment."""
    override: str | None
    """The id of the override that changed it; null where it is as the tool answered."""
    hand_marks: str | None = None
    """The id of the marks by hand that it is; null where it is none."""


class DisputedFoot(Output):
    """A foot and criterion on which the two gave different grades."""

    horse: str
    visit: str
    foot: str
    stage: str
    criterion: str
    title: str
    steps: int
    """How many grades the second is graver; below 0, milder."""
    first: JudgementBasis
    second: JudgementBasis


class Agreement(Output):
    """Two raters over the feet that both judged."""

    first: str
    second: str
    """An assessor's id, or tool."""
    feet: int
    """Feet that both judged, of the same horse, visit and stage."""
    only_first: int
    only_second: int
    """Feet that only one of them judged; they count nowhere else."""
    overrides: int
    """Judgements on feet of both that are overrides: made by somebody who had seen what the tool said."""
    blind: int = 0
    """Judgements on feet of both that are marks by hand, made before the assessor saw what the tool says."""
    nameless: int
    """Records left out because they name no horse or no visit."""
    unread: int
    """Records left out because this version, or the rulebook, does not read them."""
    grades: ShareOf
    """Equal grades of all that both gave; the interval allows for the grades of one foot going together."""
    worst: CriterionAgreement
    """Each foot's worst grade, over the criteria that both judged on it."""
    criteria: tuple[CriterionAgreement, ...]
    most_disagreed: tuple[str, ...]
    """Criteria on which they differ at all, the most disputed first; where intervals overlap that is not settled."""
    differing: int
    """In how many grades they differ."""
    differences: tuple[DisputedFoot, ...]
    """Where they differ, the widest apart first; no more than some hundreds are listed."""
    says: tuple[str, ...]
    """All of it in sentences."""


def rater_report(
    store: Store,
    first: str,
    second: str,
    book: Rulebook,
    *,
    since: str | None = None,
    until: str | None = None,
    days: tuple[str | None, str | None] = (None, None),
) -> Agreement:
    """How far ``first`` and ``second`` agree in records kept from ``since`` until before ``until``.

    ``days``: the first and the last day of the fittings.

    Each is an assessor's id, or TOOL_NAME for the tool.  Raises BadInput when the two are one, TooManyRecords,
    StoreError.
    """
    if first == second:
        detail = "One rater alone has nobody to agree with. Name two."
        raise BadInput([Problem("second", second, "another rater than first", detail)])
    judged = judgements_by_both(store, first, second, book, since=since, until=until, days=days)
    found = compare(
        [each.judgement for each in (*judged.first, *judged.second)],
        *(TOOL if rater == TOOL_NAME else rater for rater in (first, second)),
    )
    return _shown(found, judged, book)


def _shown(found: Comparison, judged: Judgements, book: Rulebook) -> Agreement:
    messages = messages_of(book)
    titles = {name: criterion.title for name, criterion in book.criteria.items()}
    titles[WORST] = messages.say("agreement.worst")
    by_first = {each.judgement.subject: each for each in judged.first}
    by_second = {each.judgement.subject: each for each in judged.second}
    of_both = [of[subject] for subject in by_first.keys() & by_second.keys() for of in (by_first, by_second)]
    overrides = sum(each.override is not None for each in of_both)
    blind = sum(each.blind for each in of_both)
    names = {name: messages.within(title) for name, title in titles.items()}
    return Agreement(
        first=_name(found.first),
        second=_name(found.second),
        feet=found.subjects,
        only_first=found.only_first,
        only_second=found.only_second,
        overrides=overrides,
        blind=blind,
        nameless=judged.nameless,
        unread=judged.unread,
        grades=_share(found.grades, messages),
        worst=_criterion(found.worst, titles, messages),
        criteria=tuple(_criterion(each, titles, messages) for each in found.criteria),
        most_disagreed=tuple(
            each.criterion for each in most_disagreed(found) if each.first_graver + each.second_graver
        ),
        differing=len(found.differences),
        differences=tuple(_difference(each, by_first, by_second, titles) for each in found.differences[:_MOST_SHOWN]),
        says=tuple(_sentences(found, overrides, blind, names, messages)),
    )


def _sentences(
    found: Comparison, overrides: int, blind: int, titles: Mapping[str, str], messages: Messages
) -> Iterator[str]:
    yield from comparison_sentences(found, titles, messages)
    if blind:
        yield messages.say("agreement.blind", count=blind)
    if overrides:
        yield messages.say("agreement.overrides", count=overrides)


def _name(rater: str) -> str:
    return TOOL_NAME if rater == TOOL else rater


def _criterion(on: OnCriterion, titles: Mapping[str, str], messages: Messages) -> CriterionAgreement:
    return CriterionAgreement(
        criterion=on.criterion,
        title=_title(on.criterion, titles),
        same=_share(on.same, messages),
        kappa={weights: _kappa(each, messages) for weights, each in on.kappas.items()},
        first_graver=on.first_graver,
        second_graver=on.second_graver,
        only_first=on.only_first,
        only_second=on.only_second,
    )


def _title(criterion: str, titles: Mapping[str, str]) -> str:
    return titles.get(criterion, criterion.replace("_", " "))


def _difference(
    each: Difference,
    by_first: Mapping[Subject, Judged],
    by_second: Mapping[Subject, Judged],
    titles: Mapping[str, str],
) -> DisputedFoot:
    one, two = by_first[each.subject], by_second[each.subject]
    return DisputedFoot(
        horse=each.subject.horse,
        visit=each.subject.visit,
        foot=each.subject.foot,
        stage=each.subject.stage,
        criterion=each.criterion,
        title=_title(each.criterion, titles),
        steps=each.steps,
        first=JudgementBasis(
            grade=each.first, assessment=one.assessment, override=one.override, hand_marks=one.hand_marks
        ),
        second=JudgementBasis(
            grade=each.second, assessment=two.assessment, override=two.override, hand_marks=two.hand_marks
        ),
    )


def _share(found: Share | NotComputed, messages: Messages) -> ShareOf:
    if isinstance(found, NotComputed):
        return ShareOf(part=0, whole=0, share=_none(found, messages))
    figure = Figure(value=found.value, low=found.interval.low, high=found.interval.high, why=None)
    return ShareOf(part=found.part, whole=found.whole, share=figure)


def _kappa(found: Kappa | NotComputed, messages: Messages) -> Figure:
    if isinstance(found, NotComputed):
        return _none(found, messages)
    return Figure(value=found.value, low=found.interval.low, high=found.interval.high, why=None)


def _none(found: NotComputed, messages: Messages) -> Figure:
    return Figure(value=None, low=None, high=None, why=found.why_in(messages))
