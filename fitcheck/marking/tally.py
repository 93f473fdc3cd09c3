"""From findings to marks: one criterion, then all of them added up, in whole hundredths of a mark."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from fitcheck.marking.apply_overrides import MarkSet
from fitcheck.marking.deductions import HUNDREDTHS, Counted, Found, count, in_marks, shown_marks
from fitcheck.marking.sheet import BandView, CriterionMark, FindingMark, Missing, Standing, Tally
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.text.format import criterion_title
from rules import Rulebook, marking_of
from rules.loading.marking_records import TakesOff
from rules.model.records import RANK

__all__ = ["Share", "band_of", "percent_of", "tally_of", "whole_mark"]

_PERCENT = 100


@dataclass(frozen=True, slots=True)
class Share:
    """One criterion before it is marked: its marks here, what was found, and whether it was observed."""

    criterion: str
    marks: int
    findings: Sequence[Found]
    missing: bool = False
    set: MarkSet | None = None

    @property
    def standing(self) -> Standing:
        """How it comes into the sum."""
        if self.marks and self.set is not None:
            return "set"
        if self.missing:
            return "missing"
        return "assessed" if self.marks else "unmarked"


def tally_of(shares: Sequence[Share], missing: Iterable[Missing], book: Rulebook) -> Tally:
    """All criteria added up; ``missing`` is what was to be observed and was not."""
    stopped_by = [found.id for share in shares for found in share.findings if found.grade == "critical"]
    computed = [_criterion(share, book, stopped=bool(stopped_by)) for share in shares]
    of = sum(share.marks for share in shares) * HUNDREDTHS
    here = [(share, left) for share, (_, left) in zip(shares, computed, strict=True) if left is not None]
    got, got_of = sum(left for _, left in here), sum(share.marks for share, _ in here) * HUNDREDTHS
    lacking = [each for each in missing if not any(s.criterion == each.criterion and s.set for s in shares)]
    whole = not stopped_by and not lacking
    band = band_of(got, of, _worst(shares), book) if whole else None
    messages = messages_of(book)
    if stopped_by:
        say = messages.say(
            "marks.stopped_by", say=marking_of(book).says["stopped"].text, names=messages.listed(stopped_by)
        )
    elif lacking:
        say = f"{marking_of(book).says['incomplete'].text} {_so_far(got, got_of, of, lacking, book)}"
    else:
        say = whole_mark(got, of, band, messages)
    partly = bool(lacking) and not stopped_by
    return Tally(
        state="stopped" if stopped_by else "incomplete" if lacking else "whole",
        mark=in_marks(got) if whole else None,
        of=in_marks(of),
        percent=percent_of(got, of) if whole else None,
        band=band,
        so_far=in_marks(got) if partly else None,
        so_far_of=in_marks(got_of) if partly else None,
        stopped_by=tuple(stopped_by),
        missing=tuple(lacking),
        criteria=tuple(criterion for criterion, _ in computed),
        say=say,
    )


def _so_far(got: int, got_of: int, of: int, lacking: Sequence[Missing], book: Rulebook) -> str:
    messages = messages_of(book)
    titles = (messages.within(criterion_title(each.criterion, book)) for each in lacking)
    return messages.say(
        "marks.so_far" if got_of else "marks.nothing_so_far",
        got=messages.number(shown_marks(got)),
        got_of=messages.number(shown_marks(got_of)),
        of=messages.number(shown_marks(of)),
        names=messages.listed(dict.fromkeys(titles)),
    )


def whole_mark(got: int, of: int, band: BandView | None, messages: Messages) -> str:
    """A whole mark in a sentence, ``got`` and ``of`` in hundredths."""
    shown = {"got": messages.number(shown_marks(got)), "of": messages.number(shown_marks(of))}
    return messages.say("marks.whole_band" if band else "marks.whole", band=band.title if band else "", **shown)


def _worst(shares: Iterable[Share]) -> TakesOff:
    """The gravest grade that bears on the band: of what is marked, and not where an assessor set the mark."""
    grades = [found.grade for share in shares if share.standing == "assessed" for found in share.findings]
    return "major" if any(RANK[grade] >= RANK["major"] for grade in grades) else "minor"


def band_of(got: int, of: int, worst: TakesOff, book: Rulebook) -> BandView | None:
    """The best band that ``got`` of ``of`` reaches with nothing graver than ``worst``; None where nothing is marked."""
    if not of:
        return None
    for name, band in marking_of(book).best_first:
        if got * _PERCENT >= band.from_ * of and RANK[worst] <= RANK[band.worst]:
            return BandView(name=name, title=band.title, meaning=band.meaning)
    return None


def percent_of(got: int, of: int) -> float | None:
    """A share, to a tenth of a percent (halves to the even tenth)."""
    return float(round(Fraction(got * _PERCENT, of), 1)) if of else None


def _criterion(share: Share, book: Rulebook, *, stopped: bool) -> tuple[CriterionMark, int | None]:
    """The criterion, and what is left of its marks in hundredths; None where nothing comes into the sum."""
    standing, marks = share.standing, share.marks
    counted = Counted({}, 0)
    left: int | None = None
    messages = messages_of(book)
    if stopped:
        why = messages.say("marks.critical_stops")
    elif standing == "assessed":
        counted = count(share.findings, marks, book)
        left = marks * HUNDREDTHS - counted.taken
        why = _why_left(counted, marks, messages)
    elif standing == "set" and share.set is not None:
        left, why = share.set
    elif standing == "missing":
        why = messages.say("marks.not_wholly")
    elif marking_of(book).marks[share.criterion].marks:
        why = messages.say("marks.not_required")
    else:
        why = messages.say("marks.none_hang")
    criterion = CriterionMark(
        criterion=share.criterion,
        title=book.criteria[share.criterion].title,
        standing=standing,
        of=float(marks),
        mark=None if left is None else in_marks(left),
        taken_off=in_marks(counted.taken),
        findings=tuple(_findings(share, counted, book, why)),
        why=why,
    )
    return criterion, left


def _why_left(counted: Counted, marks: int, messages: Messages) -> str:
    if not counted.takes:
        return messages.say("marks.nothing_found")
    together = sum(counted.takes.values())
    message_id = "marks.nothing_left" if together > counted.taken else "marks.off"
    return messages.say(message_id, taken=messages.number(shown_marks(together)), marks=marks)


def _findings(share: Share, counted: Counted, book: Rulebook, otherwise: str) -> Iterator[FindingMark]:
    messages = messages_of(book)
    for found in share.findings:
        takes = counted.takes.get(found.id)
        if found.grade == "critical":
            why = messages.say("marks.critical")
        elif takes is not None:
            percent = marking_of(book).deductions[found.grade].percent
            why = messages.say(
                "marks.percent_off",
                grade=messages.named("grade", found.grade),
                percent=percent,
                marks=share.marks,
                takes=messages.number(shown_marks(takes)),
            )
        elif counted.takes:
            with_it = [other.id for other in share.findings if other.id in counted.takes and _one_fault(found, other)]
            why = messages.say("marks.one_fault", names=messages.listed(with_it))
        else:
            why = messages.say("marks.not_counted", why=otherwise)
        yield FindingMark(
            finding=found.id,
            grade=found.grade,
            grade_found=found.grade_found,
            say=found.say,
            counted=takes is not None,
            takes=in_marks(takes or 0),
            why=why,
        )


def _one_fault(one: Found, other: Found) -> bool:
    return one.id in other.parts or other.id in one.parts
