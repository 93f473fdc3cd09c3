"""The report of one foot, and of a visit: what each says, in the order in which its template needs it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from markupsafe import Markup

from fitcheck.assessment.models import Assessment, Conforming, Measurement, RulebookIdentity
from fitcheck.drawing import Form, draw
from fitcheck.fitting.models import Fitting
from fitcheck.marking.sheet import ChangeView
from fitcheck.pairs import PairAssessment
from fitcheck.pairs.visit import VisitAssessment
from fitcheck.report.html.density import PaperFoot, density_of
from fitcheck.report.html.rendering import PAPER_POLICY, REPORT_POLICY, filled
from fitcheck.text.catalogue import Messages, capital, messages_of
from fitcheck.text.format import criterion_title, place_name, quantity_title, shown
from fitcheck.view import AssessmentView, FindingView, finding_views, view_of, visit_part
from rules import Rulebook

__all__ = ["FootToReport", "RecordReference", "foot_report", "visit_report"]


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
    """One foot that a report is to tell of.

    ``book`` names things, in the language of the report, and gives the bands where it judged.
    """

    fitting: Fitting
    assessment: Assessment
    book: Rulebook
    kept: RecordReference | None = None
    changes: tuple[ChangeView, ...] = ()
    """What assessors changed in its marks."""


class Fact(NamedTuple):
    """A label with what stands behind it."""

    label: str
    value: str
    digest: bool = False


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
    facts: tuple[Fact, ...]
    record: tuple[Fact, ...]
    corrected_by: tuple[str, ...]
    same_book: bool
    same_language: bool
    """Whether what was answered is in the language of the report."""
    changes: tuple[ChangeView, ...]
    conforms: tuple[ConformingRow, ...]
    measurements: tuple[ReadingsRow, ...]
    notes: str | None
    drawing: Markup
    sources: tuple[str, ...]
    """The ids of the sources that its findings name."""


class SourceRow(NamedTuple):
    """One source in full; a name that no rulebook at hand has stands alone."""

    name: str
    title: str
    more: tuple[str, ...]


class PairSection(NamedTuple):
    """What is said of two feet held together."""

    title: str
    compared: bool
    cautions: tuple[str, ...]
    actions: tuple[str, ...]
    findings: tuple[FindingView, ...]
    not_compared: tuple[str, ...]
    measurements: tuple[ReadingsRow, ...]
    rulebook: RulebookIdentity


def foot_report(foot: FootToReport, *, paper: bool = False) -> str:
    """The report of one foot as a whole HTML document, in its book's language; ``paper``: to be printed on one page."""
    shown_foot, messages = _foot_section(foot, "foot", paper=paper), messages_of(foot.book)
    return filled(
        "foot_report.html",
        messages,
        title=messages.say("report.title", foot=shown_foot.view.title),
        policy=PAPER_POLICY if paper else REPORT_POLICY,
        paper=density_of([_on_paper(shown_foot, shown_foot.view.cautions)]) if paper else None,
        foot=shown_foot,
        sources=tuple(_sources(shown_foot.sources, foot.book)),
    )


def visit_report(visit: VisitAssessment, feet: Sequence[FootToReport], book: Rulebook, *, paper: bool = False) -> str:
    """The report of a ``visit``, whose ``feet`` are those that count at it; ``book`` compared the pairs.

    It is in the language of ``book``; ``paper``: to be printed on one page more than it has feet.
    """
    sections = [_foot_section(foot, foot.assessment.foot.replace("_", "-"), paper=paper) for foot in feet]
    messages = messages_of(book)
    pairs = tuple(_pair(pair, book) for pair in visit.pairs)
    names = dict.fromkeys(name for foot in sections for name in foot.sources)
    names |= dict.fromkeys(name for pair in pairs for each in pair.findings for name in each.finding.sources)
    rulebooks = {foot.book.digest: foot.book for foot in feet}
    named = (
        messages.say("report.title_visit", visit=visit.visit) if visit.visit else messages.say("report.title_nameless")
    )
    return filled(
        "visit_report.html",
        messages,
        title=named,
        policy=PAPER_POLICY if paper else REPORT_POLICY,
        paper=density_of(map(_on_paper, sections)) if paper else None,
        decision=visit.decision,
        decision_text=messages.say(f"report.visit.decides.{visit.decision}"),
        decided_by=[visit_part(name, messages) for name in visit.decided_by],
        facts=_in_common(sections),
        feet=sections,
        pairs=pairs,
        missing=[capital(messages.named("foot", foot)) for foot in visit.feet_missing],
        conflicts=[
            (capital(messages.named("foot", foot.foot)), foot.in_conflict) for foot in visit.feet if foot.in_conflict
        ],
        cautions=_cautions(sections, pairs),
        sources=tuple(_sources(names, book, *rulebooks.values())),
    )


def _foot_section(foot: FootToReport, anchor: str, *, paper: bool) -> FootSection:
    """What is said of ``foot``; ``anchor`` begins the ids within the page."""
    fitting, assessment, book = foot.fitting, foot.assessment, foot.book
    form: Form = "views" if paper else "sheet"
    svg = draw(fitting, assessment, book, form=form, prefix=f"{anchor}-drawing", any_book=True)
    return FootSection(
        anchor=anchor,
        view=view_of(assessment, book),
        decision=assessment.decision,
        facts=tuple(_facts(fitting, assessment, messages_of(book))),
        record=tuple(_record(foot, messages_of(book))),
        corrected_by=() if foot.kept is None else foot.kept.corrected_by,
        same_book=assessment.rulebook.digest == book.digest,
        same_language=(assessment.language or (book.original or book).language) == book.language,
        changes=foot.changes,
        conforms=_conforming(assessment.conforms, book),
        measurements=_measurement_rows(assessment.measurements, book),
        notes=fitting.notes,
        drawing=Markup(svg),  # noqa: S704  (the drawing escapes what it is given)
        sources=tuple(dict.fromkeys(name for finding in assessment.findings for name in finding.sources)),
    )


def _on_paper(foot: FootSection, cautions: Sequence[str] = ()) -> PaperFoot:
    """What takes room of a foot, with ``cautions`` where they stand on its page."""
    facts = [f"{fact.label}:   {fact.value}   " for fact in (*foot.facts, *foot.record)]
    return PaperFoot(foot.view, facts, foot.notes or "", [each.say + each.reason for each in foot.changes], cautions)


def _measurement_rows(measurements: Iterable[Measurement], book: Rulebook) -> tuple[ReadingsRow, ...]:
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


def _facts(fitting: Fitting, assessment: Assessment, messages: Messages) -> Iterator[Fact]:
    horse, person, history = fitting.horse, fitting.person, fitting.observations.history
    names: dict[str, str | None] = {}
    if horse is not None:
        names |= {"horse": horse.id, "ueln": horse.ueln, "transponder": horse.transponder}
    names |= {
        "visit": fitting.visit,
        "work": messages.word(fitting.work),
        "hoof_form": messages.word(fitting.hoof_form),
        "stance": None if fitting.stance is None else messages.word(fitting.stance),
    }
    if history is not None:
        names |= {"fitted": _day(history.fitted, messages), "last_shod": _day(history.last_shod, messages)}
    not_said = messages.say("report.fact.not_said")
    names |= {
        "fitted_by": not_said if person is None else person.id,
        "assessed_by": not_said if fitting.assessor is None else fitting.assessor.id,
        "assessed_at": _minute(assessment.created, messages),
    }
    if person is not None and person.role is not None:
        names["fitted_by"] = messages.say(f"report.role.{person.role}", id=person.id)
    for name, value in names.items():
        if value is not None:
            yield Fact(messages.say(f"report.fact.{name}"), value)


def _minute(created: str, messages: Messages) -> str:
    """A time (UTC) as it is read out, to the minute."""
    return f"{messages.day(date.fromisoformat(created[:10]))} {created[11:16]} UTC"


def _day(day: date | None, messages: Messages) -> str | None:
    return None if day is None else messages.day(day)


def _record(foot: FootToReport, messages: Messages) -> Iterator[Fact]:
    rulebook, kept = foot.assessment.rulebook, foot.kept
    yield Fact(messages.say("report.fact.rulebook"), f"{rulebook.title}, {rulebook.version}")
    yield Fact(messages.say("report.fact.rulebook_digest"), rulebook.digest, digest=True)
    yield Fact(messages.say("report.fact.assessment"), foot.assessment.id)
    if kept is None:
        yield Fact(messages.say("report.fact.record"), messages.say("report.fact.not_kept"))
        return
    yield Fact(messages.say("report.fact.record_number"), str(kept.number))
    yield Fact(messages.say("report.fact.record_digest"), kept.digest, digest=True)
    if kept.corrects is not None:
        yield Fact(messages.say("report.fact.corrects"), kept.corrects)


def _sources(names: Iterable[str], *rulebooks: Rulebook) -> Iterator[SourceRow]:
    for name in names:
        source = next((book.sources[name] for book in rulebooks if name in book.sources), None)
        if source is None:
            yield SourceRow(name, messages_of(rulebooks[0]).say("report.source_not_at_hand"), ())
            continue
        more = (source.authors, source.year, source.note, source.licence)
        yield SourceRow(name, source.title, tuple(part for part in more if part is not None))


def _pair(pair: PairAssessment, book: Rulebook) -> PairSection:
    return PairSection(
        title=capital(messages_of(book).say(f"report.visit.pair.{pair.pair}")),
        compared=pair.compared,
        cautions=pair.cautions if pair.findings else (),
        actions=pair.actions,
        findings=finding_views(pair.findings, book),
        not_compared=tuple(each.say for each in pair.not_compared),
        measurements=_measurement_rows(pair.measurements, book),
        rulebook=pair.rulebook,
    )


def _in_common(feet: Sequence[FootSection]) -> list[Fact]:
    """Each fact that any of the feet has and none has otherwise."""
    by_label: dict[str, set[Fact]] = {}
    for fact in (fact for foot in feet for fact in foot.facts):
        by_label.setdefault(fact.label, set()).add(fact)
    return [facts.pop() for facts in by_label.values() if len(facts) == 1]


def _cautions(feet: Sequence[FootSection], pairs: Sequence[PairSection]) -> list[tuple[str, list[str]]]:
    """Each caution once, with what it is said of unless that is every foot; those of the gravest feet first."""
    titles_of: dict[str, list[str]] = {}
    gravest_first = sorted(feet, key=lambda foot: foot.decision != "stop_and_refer")
    for title, cautions in [(foot.view.title, foot.view.cautions) for foot in gravest_first] + [
        (pair.title, pair.cautions) for pair in pairs
    ]:
        for caution in cautions:
            titles_of.setdefault(caution, []).append(title)
    everywhere = {foot.view.title for foot in feet}
    return [(caution, [] if everywhere <= set(of) else of) for caution, of in titles_of.items()]
