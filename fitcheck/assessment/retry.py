"""What became of an assessment in the one that follows it: what stands from it, and what a second try changed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fitcheck.assessment.following import Followed, same_visit
from fitcheck.assessment.models import Assessment, EarlierFinding, Finding, Outcome, Retry, RetryChange
from fitcheck.fitting.models import Fitting
from rules import Table
from rules.model import RANK

__all__ = ["earlier_findings", "retry_of"]

_Key = tuple[str, str, str]
"""Criterion, quantity (or joined rule) and place."""


def earlier_findings(fitting: Fitting, findings: Iterable[Finding], before: Followed) -> Iterator[EarlierFinding]:
    """What ``before`` found and nothing could be done about, as it was told, unless ``findings`` have it again.

    What was told before that goes on within the visit, and ends with the next one.
    """
    found = {each.id for each in findings}
    assessment = before.assessment
    for each in assessment.findings:
        if each.grade == "major" and each.blocks is False and each.id not in found:
            yield EarlierFinding(assessment=assessment.id, finding=each)
    if same_visit(fitting, before.fitting):
        yield from (each for each in assessment.earlier_findings or () if each.finding.id not in found)


def retry_of(fitting: Fitting, findings: Iterable[Finding], table: Table, before: Followed) -> Retry | None:
    """What became better and worse since ``before``, and what is left; None unless both are of one stage and visit.

    ``table`` has every reading that ``findings`` were made of.  What was found before and is not looked at again is
    left, and so is what is found now and was not looked at before.
    """
    if fitting.stage != before.fitting.stage or not same_visit(fitting, before.fitting):
        return None
    then, now = _gravest(before.assessment.findings), _gravest(findings)
    sorted_out: dict[str, list[RetryChange]] = {"better": [], "worse": [], "left": []}
    for key in dict.fromkeys((*now, *then)):
        finding = now.get(key) or then[key]
        _, quantity, place = key
        single = finding.measured is not None
        was = then[key].grade if key in then else _clear(not single or _conformed(before.assessment, quantity, place))
        is_now = now[key].grade if key in now else _clear(not single or (quantity, place) in table)
        change = RetryChange(
            rule=finding.rule,
            criterion=finding.criterion,
            quantity=quantity if single else None,
            place=place,
            before=was,
            now=is_now,
        )
        sorted_out[_direction(was, is_now)].append(change)
    return Retry(assessment=before.assessment.id, **{name: tuple(each) for name, each in sorted_out.items()})


def _gravest(findings: Iterable[Finding]) -> dict[_Key, Finding]:
    """The gravest finding of each thing, in their order."""
    found: dict[_Key, Finding] = {}
    for each in findings:
        name = each.rule if each.measured is None else each.measured.quantity
        key = (each.criterion, name, each.place)
        if key not in found or RANK[found[key].grade] < RANK[each.grade]:
            found[key] = each
    return found


def _clear(seen: bool) -> Outcome:  # noqa: FBT001  (of one thing: whether it was looked at)
    return "clear" if seen else "not_assessed"


def _conformed(assessment: Assessment, quantity: str, place: str) -> bool:
    return any((each.quantity, each.place) == (quantity, place) for each in assessment.conforms)


def _direction(was: Outcome, now: Outcome) -> str:
    if "not_assessed" in {was, now} or was == now:
        return "left"
    order = ("clear", *RANK)
    return "better" if order.index(now) < order.index(was) else "worse"
