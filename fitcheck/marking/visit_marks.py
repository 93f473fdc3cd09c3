"""The marks of a visit: each foot's sheet, the pairs that were compared, and both added up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from fitcheck.assessment import Assessment
from fitcheck.errors import BadInput, Problem
from fitcheck.marking.counting import HUNDREDTHS
from fitcheck.marking.marks import mark_of
from fitcheck.marking.overrides import Override
from fitcheck.marking.reckoning import Share, band_of, percent_of, tally_of, whole_mark
from fitcheck.marking.said import found_among
from fitcheck.marking.sheet import MarkSheet, PairMarks, Tally, VisitSheet, VisitTally
from fitcheck.messages import Messages, messages_of
from fitcheck.pair import PairAssessment
from fitcheck.visit import VisitAssessment
from rules import Rulebook, marking_of
from rules.marking import TakesOff

__all__ = ["sheet_of_visit"]

_PAIR: Final = "pair"


def sheet_of_visit(
    visit: VisitAssessment,
    assessments: Mapping[str, Assessment | Mapping[str, Any]],
    book: Rulebook,
    overrides: Iterable[Override] = (),
) -> VisitSheet:
    """The sheet of ``visit``, whose ``assessments`` are given by their ids; ``overrides`` of any of them.

    Of each foot the assessment that counts at the visit is marked.  Raises BadInput when one is not given, and what
    :func:`fitcheck.marking.mark_of` raises.
    """
    given = list(overrides)
    feet = []
    for foot in visit.feet:
        if foot.assessment not in assessments:
            detail = f"The visit counts assessment {foot.assessment}. Give it with its id."
            raise BadInput([Problem("assessments", foot.assessment, "every assessment that the visit counts", detail)])
        of_foot = [each for each in given if each.about == foot.assessment]
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
        say = messages.say("marks.at", say=says["stopped"].text, places=_spoken(stopped, messages))
    elif not tallies:
        say = messages.say("marks.no_foot")
    elif incomplete:
        say = messages.say("marks.at", say=says["incomplete"].text, places=_spoken(incomplete, messages))
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
    grades = {finding.grade for finding in _marked(tallies)}
    return "major" if "major" in grades else "minor"


def _marked(tallies: Iterable[Tally]) -> Iterator[Any]:
    for tally in tallies:
        for criterion in tally.criteria:
            if criterion.standing == "assessed":
                yield from criterion.findings


def _spoken(names: Iterable[str], messages: Messages) -> str:
    return messages.listed(
        messages.say(f"marks.{name.removeprefix('pair:')}_pair")
        if name.startswith("pair:")
        else messages.say("marks.foot", foot=messages.named("foot", name))
        for name in names
    )
