"""What a report says of one foot, in the order in which a template needs it; nothing here judges."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from markupsafe import Markup

from fitcheck.assessment.models import Assessment, Conforming, Finding, Measurement
from fitcheck.drawing import draw
from fitcheck.drawing.listing import missing_names
from fitcheck.fitting.models import Fitting
from fitcheck.marking.sheet import ChangeView
from fitcheck.report.html.phrases import (
    capital,
    how_sure,
    limit_text,
    measured_text,
    place_text,
    quantity_text,
    with_u,
)
from fitcheck.text.catalogue import ENGLISH, messages_in
from fitcheck.text.names import criterion_named
from rules import Rulebook

__all__ = [
    "FindingRow",
    "FootSection",
    "FootToReport",
    "ReadingsRow",
    "RecordReference",
    "finding_rows",
    "foot_section",
    "measurement_rows",
]

_ROLES: Final = {None: "", "apprentice": " (apprentice)", "farrier": " (farrier)"}


class RecordReference(NamedTuple):
    """The record of a kept assessment."""

    number: int
    digest: str
    corrects: str | None = None
    """The id of the assessment that it corrects."""
    corrected_by: tuple[str, ...] = ()
    """The ids of the assessments that correct it; with any, it no longer counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FootToReport:
    """One foot that a report is to tell of; ``book`` names things, and gives the bands where it judged."""

    fitting: Fitting
    assessment: Assessment
    book: Rulebook
    kept: RecordReference | None = None
    changes: tuple[ChangeView, ...] = ()
    """What assessors changed in its marks."""


class FindingRow(NamedTuple):
    """One finding as it is told; ``changed_by`` are the changes that assessors made to it."""

    number: int
    grade: str
    grade_word: str
    criterion: str
    place: str
    finding: str
    why: str
    standing: str
    measured: str
    where: str
    limit: str
    sure: str
    action: str
    sources: tuple[str, ...]
    changed_by: tuple[ChangeView, ...]


class ReadingsRow(NamedTuple):
    """The numbers of one quantity as they are told, place by place."""

    quantity: str
    readings: tuple[str, ...]


class ConformingRow(NamedTuple):
    """What of one criterion lies within its limits."""

    criterion: str
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FootSection:
    """Everything that a report says of one foot."""

    anchor: str
    title: str
    decision: str
    decision_text: str
    facts: tuple[tuple[str, str], ...]
    record: tuple[tuple[str, str], ...]
    corrected_by: tuple[str, ...]
    same_book: bool
    cautions: tuple[str, ...]
    actions: tuple[str, ...]
    findings: tuple[FindingRow, ...]
    changes: tuple[ChangeView, ...]
    next_visit: str | None
    needed: tuple[tuple[str, str], ...]
    missing: tuple[str, ...]
    conforms: tuple[ConformingRow, ...]
    measurements: tuple[ReadingsRow, ...]
    remarks: tuple[str, ...]
    notes: str | None
    drawing: Markup
    sources: tuple[str, ...]
    """The ids of the sources that its findings name."""


def foot_section(foot: FootToReport, anchor: str = "foot") -> FootSection:
    """What is said of ``foot``; ``anchor`` begins the ids within the page."""
    fitting, assessment, book = foot.fitting, foot.assessment, foot.book
    words = messages_in(ENGLISH)
    svg = draw(fitting, assessment, book, form="sheet", prefix=f"{anchor}-drawing", any_book=True)
    findings = finding_rows(assessment.findings, book, foot.changes)
    needed_criteria = {need.criterion for need in assessment.still_needed}
    missing = assessment.model_copy(
        update={"not_assessed": tuple(name for name in assessment.not_assessed if name not in needed_criteria)}
    )
    return FootSection(
        anchor=anchor,
        title=f"{words.say(f'drawing.foot.{assessment.foot}')}, {words.say(f'drawing.stage.{assessment.stage}')}",
        decision=assessment.decision,
        decision_text=words.say(f"drawing.decision.{assessment.decision}"),
        facts=tuple(_facts(fitting, assessment)),
        record=tuple(_record(foot)),
        corrected_by=() if foot.kept is None else foot.kept.corrected_by,
        same_book=assessment.rulebook.digest == book.digest,
        cautions=assessment.cautions,
        actions=assessment.actions,
        findings=findings,
        changes=foot.changes,
        next_visit=None if assessment.next_due is None else assessment.next_due.say,
        needed=tuple((need.field, need.say) for need in assessment.still_needed),
        missing=tuple(missing_names(missing, words, book)),
        conforms=_conforming(assessment.conforms, book),
        measurements=measurement_rows(assessment.measurements, book),
        remarks=assessment.remarks,
        notes=fitting.notes,
        drawing=Markup(svg),  # noqa: S704  (the drawing escapes what it is given)
        sources=tuple(dict.fromkeys(name for finding in assessment.findings for name in finding.sources)),
    )


def finding_rows(
    findings: Iterable[Finding], book: Rulebook, changes: Sequence[ChangeView] = ()
) -> tuple[FindingRow, ...]:
    """Findings in their order, numbered as in the drawing."""
    words = messages_in(ENGLISH)
    return tuple(
        FindingRow(
            number=number,
            grade=each.grade,
            grade_word=capital(words.say(f"drawing.grade.{each.grade}")),
            criterion=criterion_named(each.criterion, book),
            place=capital(place_text(each.place, book)),
            finding=each.finding,
            why=each.why,
            standing=each.status,
            measured=measured_text(each, book),
            where="" if each.measured is None else each.measured.where or "",
            limit=limit_text(each.limit),
            sure=how_sure(each),
            action=each.action,
            sources=each.sources,
            changed_by=tuple(change for change in changes if change.about == each.id),
        )
        for number, each in enumerate(findings, 1)
    )


def measurement_rows(measurements: Iterable[Measurement], book: Rulebook) -> tuple[ReadingsRow, ...]:
    """Numbers by quantity, in the order in which they first occur."""
    by_quantity: dict[str, list[str]] = {}
    for each in measurements:
        where = f" ({each.where})" if each.where else ""
        place = "" if each.place == "foot" else f"{place_text(each.place, book)}: "
        needed_criteria = f"{place}{with_u(each.value, each.u, each.unit)}{where}"
        by_quantity.setdefault(each.quantity, []).append(needed_criteria)
    return tuple(
        ReadingsRow(quantity_text(name, book), tuple(needed_criteria)) for name, needed_criteria in by_quantity.items()
    )


def _conforming(conforms: Iterable[Conforming], book: Rulebook) -> tuple[ConformingRow, ...]:
    by_criterion: dict[str, dict[str, list[str]]] = {}
    for each in conforms:
        places = by_criterion.setdefault(each.criterion, {}).setdefault(each.quantity, [])
        places.append(place_text(each.place, book))
    return tuple(
        ConformingRow(
            criterion_named(criterion, book),
            tuple(
                f"{quantity_text(quantity, book)}: {', '.join(dict.fromkeys(places))}"
                for quantity, places in readings.items()
            ),
        )
        for criterion, readings in by_criterion.items()
    )


def _facts(fitting: Fitting, assessment: Assessment) -> Iterator[tuple[str, str]]:
    horse, person = fitting.horse, fitting.person
    if horse is not None:
        names = {"Horse": horse.id, "UELN": horse.ueln, "Transponder": horse.transponder}
        yield from ((label, name) for label, name in names.items() if name is not None)
    if fitting.visit is not None:
        yield "Visit", fitting.visit
    yield "Work", fitting.work
    yield "Hoof form", fitting.hoof_form.replace("_", " ")
    history = fitting.observations.history
    if history is not None and history.fitted is not None:
        yield "Fitted on", history.fitted.isoformat()
    if history is not None and history.last_shod is not None:
        yield "Last shod on", history.last_shod.isoformat()
    yield "Fitted by", "not said" if person is None else f"{person.id}{_ROLES[person.role]}"
    yield "Assessed by", "not said" if fitting.assessor is None else fitting.assessor.id
    yield "Assessed at", assessment.created


def _record(foot: FootToReport) -> Iterator[tuple[str, str]]:
    rulebook = foot.assessment.rulebook
    yield "Rulebook", f"{rulebook.title}, {rulebook.version}"
    yield "Rulebook's digest", rulebook.digest
    yield "Assessment", foot.assessment.id
    if foot.kept is None:
        yield "Record", "not kept"
        return
    yield "Record number", str(foot.kept.number)
    yield "Record's digest", foot.kept.digest
    if foot.kept.corrects is not None:
        yield "Corrects", foot.kept.corrects
