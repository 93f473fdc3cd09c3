"""What a report says of one foot, in the order in which a template needs it; nothing here judges."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from markupsafe import Markup

from fitcheck.assessment.models import Assessment, Conforming, Measurement
from fitcheck.drawing import draw
from fitcheck.fitting.models import Fitting
from fitcheck.marking.sheet import ChangeView
from fitcheck.text.catalogue import capital
from fitcheck.text.format import criterion_title, place_name, quantity_title, shown
from fitcheck.view import AssessmentView, view_of
from rules import Rulebook

__all__ = [
    "FootSection",
    "FootToReport",
    "ReadingsRow",
    "RecordReference",
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
    view: AssessmentView
    decision: str
    facts: tuple[tuple[str, str], ...]
    record: tuple[tuple[str, str], ...]
    corrected_by: tuple[str, ...]
    same_book: bool
    changes: tuple[ChangeView, ...]
    conforms: tuple[ConformingRow, ...]
    measurements: tuple[ReadingsRow, ...]
    notes: str | None
    drawing: Markup
    sources: tuple[str, ...]
    """The ids of the sources that its findings name."""


def foot_section(foot: FootToReport, anchor: str = "foot") -> FootSection:
    """What is said of ``foot``; ``anchor`` begins the ids within the page."""
    fitting, assessment, book = foot.fitting, foot.assessment, foot.book
    svg = draw(fitting, assessment, book, form="sheet", prefix=f"{anchor}-drawing", any_book=True)
    return FootSection(
        anchor=anchor,
        view=view_of(assessment, book),
        decision=assessment.decision,
        facts=tuple(_facts(fitting, assessment)),
        record=tuple(_record(foot)),
        corrected_by=() if foot.kept is None else foot.kept.corrected_by,
        same_book=assessment.rulebook.digest == book.digest,
        changes=foot.changes,
        conforms=_conforming(assessment.conforms, book),
        measurements=measurement_rows(assessment.measurements, book),
        notes=fitting.notes,
        drawing=Markup(svg),  # noqa: S704  (the drawing escapes what it is given)
        sources=tuple(dict.fromkeys(name for finding in assessment.findings for name in finding.sources)),
    )


def measurement_rows(measurements: Iterable[Measurement], book: Rulebook) -> tuple[ReadingsRow, ...]:
    """Numbers by quantity, in the order in which they first occur."""
    by_quantity: dict[str, list[str]] = {}
    for each in measurements:
        where = f" ({each.where})" if each.where else ""
        place = "" if each.place == "foot" else f"{place_name(each.place, book)}: "
        value = shown(each.value, each.unit, book.language, u=each.u)
        by_quantity.setdefault(each.quantity, []).append(f"{place}{value}{where}")
    return tuple(
        ReadingsRow(capital(quantity_title(name, book)), tuple(readings)) for name, readings in by_quantity.items()
    )


def _conforming(conforms: Iterable[Conforming], book: Rulebook) -> tuple[ConformingRow, ...]:
    by_criterion: dict[str, dict[str, list[str]]] = {}
    for each in conforms:
        places = by_criterion.setdefault(each.criterion, {}).setdefault(each.quantity, [])
        places.append(place_name(each.place, book))
    return tuple(
        ConformingRow(
            criterion_title(criterion, book),
            tuple(
                f"{capital(quantity_title(quantity, book))}: {', '.join(dict.fromkeys(places))}"
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
