"""The marks of one assessed foot: as the tool gives them, and beside them as assessors changed them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from fitcheck.assessment.models import Assessment, RulebookIdentity
from fitcheck.errors import BadInput, Problem
from fitcheck.marking.apply_overrides import Applied
from fitcheck.marking.deductions import HUNDREDTHS, found_among
from fitcheck.marking.overrides import Override
from fitcheck.marking.sheet import MarkSheet, Missing, PairMarks, Tally, VisitSheet, VisitTally
from fitcheck.marking.tally import Share, band_of, percent_of, tally_of, whole_mark
from fitcheck.pairs import PairAssessment
from fitcheck.pairs.visit import VisitAssessment
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.vocabulary import Decision
from rules import Rulebook, marking_of
from rules.loading.marking_records import TakesOff

__all__ = ["mark_of", "sheet_of_visit"]


def mark_of(assessment: Assessment, book: Rulebook, overrides: Iterable[Override] = ()) -> MarkSheet:
    """The sheet of ``assessment`` by the scheme of ``book``, with its ``overrides``.

    The same arguments give the same sheet, whatever the order of findings; ``overrides`` count in the order in which
    they come, that in which they were kept, whatever their clocks say.  Raises BadInput when
    ``assessment`` has findings on a criterion that ``book`` lacks; ValueError when an override is about another
    assessment.
    """
    own = _tally(Applied(assessment, book, ()), book)
    applied = Applied(assessment, book, overrides)
    other = _tally(applied, book) if applied.changes else None
    return MarkSheet(
        assessment=assessment.id,
        created=assessment.created,
        foot=assessment.foot,
        stage=assessment.stage,
        decision=assessment.decision,
        judged_by=assessment.rulebook,
        marked_by=RulebookIdentity.of(book),
        tool=own,
        assessor=other,
        changes=tuple(applied.changes),
        says=tuple(_notes(assessment.decision, other, book)),
    )


def _tally(applied: Applied, book: Rulebook) -> Tally:
    required = applied.required
    missing = list(_missing(applied, required))
    lacking = {each.criterion for each in missing}
    seen = {*required, *applied.judged, *(found.criterion for found in applied.findings.values())}
    shares = [
        Share(
            criterion=name,
            marks=marking_of(book).marks[name].marks if name in required else 0,
            findings=[found for found in applied.findings.values() if found.criterion == name],
            missing=name in lacking,
            set=applied.set.get(name),
        )
        for name in book.criteria
        if name in seen
    ]
    return tally_of(shares, missing, book)


def _missing(applied: Applied, required: Iterable[str]) -> Iterator[Missing]:
    """What the assessment still needs, and what this book requires of which nothing was observed."""
    still_needed = applied.assessment.still_needed
    for each in still_needed:
        yield Missing(criterion=each.criterion, field=each.field)
    needed_criteria = {each.criterion for each in still_needed}
    for name in required:
        if name not in applied.judged and name not in needed_criteria:
            yield Missing(criterion=name, field=None)


def _notes(decision: Decision, other: Tally | None, book: Rulebook) -> Iterator[str]:
    says = marking_of(book).says
    if decision == "stop_and_refer":
        yield says["stop_stays"].text
    elif other is not None and other.state == "stopped":
        yield says["stop_added"].text
    if other is not None:
        yield says["overridden"].text
    yield says["decides_nothing"].text


_PAIR: Final = "pair"


def sheet_of_visit(
    visit: VisitAssessment,
    assessments: Mapping[str, Assessment],
    book: Rulebook,
    overrides: Iterable[Override] = (),
) -> VisitSheet:
    """The sheet of ``visit``, whose ``assessments`` are given by their ids; ``overrides`` of any of them.

    Of each foot the assessment that counts at the visit is marked.  Raises BadInput when one is not given, and what
    :func:`fitcheck.marking.mark_of` raises.
    """
    every_override = list(overrides)
    feet = []
    for foot in visit.feet:
        if foot.assessment not in assessments:
            detail = f"The visit counts assessment {foot.assessment}. Give it with its id."
            raise BadInput([Problem("assessments", foot.assessment, "every assessment that the visit counts", detail)])
        of_foot = [each for each in every_override if each.about == foot.assessment]
        feet.append(mark_of(assessments[foot.assessment], book, of_foot))
    pairs = tuple(_pair(pair, book) for pair in visit.pairs)
    return VisitSheet(
        visit=visit.visit,
        decision=visit.decision,
        feet=tuple(feet),
        pairs=pairs,
        feet_missing=visit.feet_missing,
        tally=_together(feet, pairs, book),
        says=tuple(dict.fromkeys(say for foot in feet for say in foot.says)) or (_nothing(book),),
    )


def _nothing(book: Rulebook) -> str:
    return marking_of(book).says["decides_nothing"].text


def _pair(pair: PairAssessment, book: Rulebook) -> PairMarks:
    messages = messages_of(book)
    names = [name for name, criterion in book.criteria.items() if criterion.of == _PAIR]
    if not pair.compared or not (pair.findings or pair.conforms):
        why = " ".join(each.say for each in pair.not_compared) or messages.say("marks.nothing_compared")
        return PairMarks(pair=pair.pair, tally=None, say=messages.say("marks.pair_unmarked", why=why))
    found = found_among(pair.findings, book).values()
    shares = [
        Share(name, marking_of(book).marks[name].marks, [each for each in found if each.criterion == name])
        for name in names
    ]
    tally = tally_of(shares, (), book)
    say = messages.say("marks.pair_partly", say=tally.say) if pair.not_compared else tally.say
    return PairMarks(pair=pair.pair, tally=tally, say=say)


def _together(feet: Iterable[MarkSheet], pairs: Iterable[PairMarks], book: Rulebook) -> VisitTally:
    tallies: dict[str, Tally] = {foot.foot: foot.counts for foot in feet}
    tallies |= {f"pair:{pair.pair}": pair.tally for pair in pairs if pair.tally is not None}
    stopped = tuple(name for name, tally in tallies.items() if tally.state == "stopped")
    incomplete = tuple(name for name, tally in tallies.items() if tally.state == "incomplete")
    of = sum(round(tally.of * HUNDREDTHS) for tally in tallies.values())
    got = sum(round(tally.mark * HUNDREDTHS) for tally in tallies.values() if tally.mark is not None)
    whole = bool(tallies) and not stopped and not incomplete
    band = band_of(got, of, _worst(tallies.values()), book) if whole else None
    messages, says = messages_of(book), marking_of(book).says
    if stopped:
        say = messages.say("marks.at", say=says["stopped"].text, places=_plain_name(stopped, messages))
    elif not tallies:
        say = messages.say("marks.no_foot")
    elif incomplete:
        say = messages.say("marks.at", say=says["incomplete"].text, places=_plain_name(incomplete, messages))
    else:
        say = whole_mark(got, of, band, messages)
    return VisitTally(
        state="stopped" if stopped else "whole" if whole else "incomplete",
        mark=got / HUNDREDTHS if whole else None,
        of=of / HUNDREDTHS,
        percent=percent_of(got, of) if whole else None,
        band=band,
        stopped_by=stopped,
        incomplete=incomplete,
        say=say,
    )


def _worst(tallies: Iterable[Tally]) -> TakesOff:
    grades = {finding.grade for finding in _both_marks(tallies)}
    return "major" if "major" in grades else "minor"


def _both_marks(tallies: Iterable[Tally]) -> Iterator[Any]:
    for tally in tallies:
        for criterion in tally.criteria:
            if criterion.standing == "assessed":
                yield from criterion.findings


def _plain_name(names: Iterable[str], messages: Messages) -> str:
    return messages.listed(
        messages.say(f"marks.{name.removeprefix('pair:')}_pair")
        if name.startswith("pair:")
        else messages.say("marks.foot", foot=messages.named("foot", name))
        for name in names
    )
