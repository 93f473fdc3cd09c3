"""The one function of the tool: assess a fitting."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Container, Iterable, Mapping
from typing import NamedTuple

from fitcheck.assessment.actions import working_order
from fitcheck.assessment.completeness import Completeness, completeness_of
from fitcheck.assessment.examine import Examined, examine
from fitcheck.assessment.findings import build_findings
from fitcheck.assessment.following import Following, carried_readings
from fitcheck.assessment.gathering import notes_of
from fitcheck.assessment.models import Assessment, Finding, Measurement, RulebookIdentity, StillNeeded, Unassessed
from fitcheck.assessment.next_due import next_due
from fitcheck.assessment.retry import earlier_findings, retry_of
from fitcheck.assessment.too_uncertain import too_uncertain
from fitcheck.assessment.unassessed import again_where, measured_again, unassessed_of
from fitcheck.fitting.models import Fitting
from fitcheck.vocabulary import Decision, answered, now
from rules import Reading, Rulebook, shipped_rulebook
from rules.model.records import Stage

__all__ = [
    "Missing",
    "assess",
    "assessment_of",
    "cautions_of",
    "findings_of",
    "held_up",
    "measurements_of",
    "missing_of",
    "unless_missing",
]


def assess(fitting: Fitting | Following, book: Rulebook | None = None) -> Assessment:
    """Grade one fitted shoe by ``book`` (the shipped rulebook when None).

    A fitting that follows an assessment comes from :func:`fitcheck.assessment.following.follow`.
    Raises what :func:`fitcheck.assessment.examine.examine` raises.
    """
    return assessment_of(examine(fitting, book or shipped_rulebook()))


class Missing(NamedTuple):
    """What was not observed, or not well enough."""

    completeness: Completeness
    again: Mapping[tuple[str, str], Unassessed]
    """What has to be measured better, by quantity and place."""
    still_needed: tuple[StillNeeded, ...]


def findings_of(examined: Examined) -> tuple[list[Finding], frozenset[tuple[str, str]]]:
    """What was found, and the readings that were carried, on which some of it may rest."""
    fitting, book, _, _, table, _, firings, chances, following, _ = examined
    findings = build_findings(firings, chances, table, fitting.stage, book)
    carried = frozenset(() if following is None else carried_readings(following, table))
    return _marked(findings, carried) if carried else findings, carried


def missing_of(examined: Examined) -> Missing:
    """What is missing of a fitting that was examined."""
    fitting, book, situation, table = examined.fitting, examined.book, examined.situation, examined.table
    unsure = too_uncertain(table, examined.firings, situation, book)
    # What is too uncertain is as good as not read.
    counting = {key: reading for key, reading in table.items() if key not in unsure} if unsure else table
    completeness = completeness_of(fitting, situation, counting, book)
    again = measured_again(unsure, fitting, book)
    return Missing(completeness, again, again_where(completeness.still_needed(), again))


def assessment_of(examined: Examined) -> Assessment:
    """The assessment of a fitting that was examined, with an id of its own and the time of now."""
    fitting, book, table, remarks, following = (
        examined.fitting,
        examined.book,
        examined.table,
        examined.remarks,
        examined.following,
    )
    findings, carried = findings_of(examined)
    completeness, again, still_needed = missing_of(examined)
    decision = held_up(findings, book) or unless_missing(still_needed, fitting.stage, book)
    before = None if following is None else following.before
    return Assessment(
        id=str(uuid.uuid4()),
        created=now(),
        foot=fitting.foot,
        stage=fitting.stage,
        rulebook=RulebookIdentity.of(book),
        decision=decision,
        next=book.decisions[fitting.stage] if decision == "go_on" else None,
        findings=tuple(findings),
        actions=working_order(findings, fitting.stage, book),
        notes=notes_of(findings, book) if book.decisions else None,
        conforms=completeness.conforms(examined.firings),
        not_assessed=completeness.not_assessed,
        unassessed=unassessed_of(examined, completeness, again) if book.decisions else None,
        carried=None if following is None else following.carried,
        earlier_findings=None if before is None else tuple(earlier_findings(fitting, findings, before)),
        retry=None if before is None else retry_of(fitting, findings, table, before),
        still_needed=still_needed,
        measurements=tuple(measurements_of(table.values(), book, carried)),
        next_due=next_due(fitting, table, book),
        remarks=tuple(book.remarks[remark.name].text for remark in remarks),
        cautions=cautions_of(findings, book),
        language=None if book.original is None else book.language,
    )


def held_up(findings: Iterable[Finding], book: Rulebook) -> Decision | None:
    """The decision where a finding holds the foot up; else None."""
    grades = {finding.grade for finding in findings if book.remedy(finding.rule).holds_up}
    if "critical" in grades:
        return "stop_and_refer"
    return "put_right" if "major" in grades else None


def unless_missing(still_needed: Collection[StillNeeded], stage: Stage, book: Rulebook) -> Decision:
    """The decision where no finding holds the foot up."""
    if still_needed:
        return "incomplete"
    return "go_on" if stage in book.decisions else "release"


def _marked(findings: list[Finding], carried: Container[tuple[str, str]]) -> list[Finding]:
    """The ``findings``, those that rest on ``carried`` readings marked; joined ones come before what they rest on."""
    resting: set[str] = set()
    for finding in findings:
        if finding.measured is not None and (finding.measured.quantity, finding.place) in carried:
            resting.add(finding.id)

    def rests(name: str) -> bool:
        quantity, _, place = name.partition("@")
        return name in resting or (quantity, place) in carried

    # A joined finding may rest on another one.
    while more := [each.id for each in findings if each.id not in resting and any(map(rests, each.rests_on))]:
        resting.update(more)
    return [each.model_copy(update={"carried": True}) if each.id in resting else each for each in findings]


def measurements_of(
    readings: Iterable[Reading], book: Rulebook, carried: Container[tuple[str, str]] = ()
) -> list[Measurement]:
    """The numbers of ``readings`` as they are shown; those ``carried`` are marked."""
    units = book.units
    shown = [
        Measurement(quantity, place, answered(value), answered(u), units[quantity], where or None)
        for quantity, place, value, u, where, _ in readings
        if not isinstance(value, str)
    ]
    for each in shown if carried else ():
        if (each.quantity, each.place) in carried:
            each.carried = True
    return shown


def cautions_of(findings: list[Finding], book: Rulebook) -> tuple[str, ...]:
    """The cautions of the gravest findings that ask for action, then those that stand with every assessment."""
    for grade in ("critical", "major"):
        grave = [finding.caution for finding in findings if finding.grade == grade]
        if grave:
            break
    return tuple(dict.fromkeys([*grave, *(standing.text for standing in book.standing.values())]))
