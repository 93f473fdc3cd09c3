"""What to do, in working order: welfare, iron, foot, nails, finish."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from fitcheck.assessment.gathering import action_of, alike
from fitcheck.assessment.models import Finding
from rules import Rulebook
from rules.model.records import RANK, STAGES, Stage
from rules.situation import side_of, spot_of

__all__ = ["action_at", "working_order"]

_ORDER: Final = ("welfare", "iron", "foot", "nails", "finish")
_DRAW: Final = "draw_nails"
_AFTER_STOP: Final = "after_stop"
_BARE: Final = ("dressed", "hot_fit")
"""The stages at which no nail holds the shoe."""


def working_order(findings: Iterable[Finding], stage: Stage, book: Rulebook) -> tuple[str, ...]:
    """The actions of the major and critical findings in working order, each sentence once.

    Stop means stop: with a critical finding only the welfare of the horse is acted on, and the rest waits.  Minor
    findings are noted, not acted on.  A joined finding may stand in the stead of others.  Once nails are in, they are
    drawn before anything that needs the shoe off.  What a graver cause makes pointless leaves the list, each nail has
    one step, and like steps at several nails are one.
    """
    acting = [finding for finding in findings if finding.grade != "minor"]
    if not acting:
        return ()
    stop_cautions = [finding for finding in acting if finding.grade == "critical"]
    if stop_cautions:
        stopping = _one_step_a_nail(stop_cautions) if book.decisions else stop_cautions
        texts = _texts(stopping, stage, book)
        return (*dict.fromkeys(texts), book.steps[_AFTER_STOP].text)
    replaced = set[str]()
    for finding in acting:
        joined = book.joined.get(finding.rule)
        if joined is not None and joined.replaces_actions:
            replaced.update(finding.rests_on, (other.id for other in acting if other.rule in joined.replaces))
    acting = [finding for finding in acting if finding.id not in replaced]
    off = stage not in _BARE and any(book.remedy(finding.rule).shoe_off for finding in acting)
    if book.decisions:
        acting = _to_some_purpose(acting, off=off, book=book)
    acting.sort(key=lambda finding: (_ORDER.index(finding.order), _before_others(finding, book)))
    steps = [
        (_ORDER.index(group[0].order), _before_others(group[0], book), text)
        for group, text in zip(_groups(acting, book), _texts(acting, stage, book), strict=True)
    ]
    if off:
        draw = book.steps[_DRAW]
        steps.append((_ORDER.index(draw.order), -1, draw.text))
    steps.sort(key=lambda step: step[:2])
    return tuple(dict.fromkeys(text for _, _, text in steps))


def action_at(finding: Finding, stage: Stage, book: Rulebook) -> str:
    """The action of a finding's rule at ``stage``, as it is written: at a stage before its first, that first one's."""
    actions = book.remedy(finding.rule).action
    stages = (*STAGES[STAGES.index(stage) :], *reversed(STAGES))
    return next(actions[each] for each in stages if each in actions)


def _groups(findings: list[Finding], book: Rulebook) -> list[list[Finding]]:
    return [*alike(findings)] if book.decisions else [[finding] for finding in findings]


def _texts(findings: list[Finding], stage: Stage, book: Rulebook) -> list[str]:
    return [action_of(group, action_at(group[0], stage, book), book) for group in _groups(findings, book)]


def _to_some_purpose(acting: list[Finding], *, off: bool, book: Rulebook) -> list[Finding]:
    """The findings whose steps are left when a graver cause has made others pointless, one for each nail and move."""
    acting = sorted(acting, key=lambda finding: (-RANK[finding.grade], finding.rule not in book.joined))
    ends = [finding for finding in acting if book.remedy(finding.rule).supersedes]
    pointless = {order for finding in ends[:1] for order in book.remedy(finding.rule).supersedes}
    if off:
        pointless.update(book.steps[_DRAW].supersedes)
    kept = [
        finding
        for finding in acting
        if finding in ends[:1] or finding.order not in pointless or (off and _takes_the_shoe(finding, book, ends))
    ]
    kept = _one_move_each(kept, book)
    return _one_step_a_nail(kept)


def _takes_the_shoe(finding: Finding, book: Rulebook, ends: list[Finding]) -> bool:
    """Whether its step is done with the shoe off anyway, and no new shoe makes it pointless."""
    return book.remedy(finding.rule).shoe_off and not ends


def _one_move_each(findings: list[Finding], book: Rulebook) -> list[Finding]:
    """Of the findings that ask for one and the same move of a branch, the one that asks for most."""
    largest: dict[tuple[str, str | None], Finding] = {}
    for finding in findings:
        move = book.remedy(finding.rule).move
        if move is not None:
            key = (move, side_of(finding.place))
            known = largest.get(key)
            if known is None or abs(finding.amount or 0.0) > abs(known.amount or 0.0):
                largest[key] = finding
    sided = {move for move, side in largest if side is not None}
    return [
        finding
        for finding in findings
        if (move := book.remedy(finding.rule).move) is None
        or (
            largest[move, side_of(finding.place)] is finding
            and (side_of(finding.place) is not None or move not in sided)
        )
    ]


def _one_step_a_nail(findings: list[Finding]) -> list[Finding]:
    """One step for each nail, that of the first finding; one on some nail of a branch yields to one on a named nail."""
    first = {place: next(each for each in findings if each.place == place) for place in {f.place for f in findings}}
    sides = {side_of(each.place) for each in findings if spot_of(each.place) == "nail" and each.order == "nails"}
    return [
        finding
        for finding in findings
        if (spot_of(finding.place) != "nail" or first[finding.place] is finding)
        and not (finding.order == "nails" and finding.place.endswith("_quarter") and side_of(finding.place) in sides)
    ]


def _before_others(finding: Finding, book: Rulebook) -> int:
    """Joined findings come first within their part of the work: they say how to go about the single ones."""
    return 0 if finding.rule in book.joined else 1
