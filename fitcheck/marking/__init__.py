"""Marks for those who learn or teach the work: a sheet for a foot or a visit, overrides, progress over time.

Marks never touch an assessment: grades and decisions are the rules' business and stand as they are.  The scheme is
data, ``Rulebook.marking``; that a critical finding leaves no mark is so in every book.

::

    sheet = mark_of(assessment, book)
    asked = parse_override(loads(body))                     # BadInput tells every fault of a body by its field
    override = override_of(asked, assessment, book, earlier=kept)     # BadInput where it does not fit the assessment
    store.keep(draft_of_override(body, override, record))   # of fitcheck.records; its answer is the override's JSON
    kept = [Override.model_validate_json(each.answer) for each in records]
    sheet = mark_of(assessment, book, kept)                 # sheet.tool and sheet.assessor, side by side
    by_hand = hand_marks_of(parse_hand_marks(loads(body)), assessment, book, blind=True)     # before he saw the tool's
    store.keep(draft_of_hand_marks(body, by_hand, record))
    whole = sheet_of_visit(visit_of(assessed, book), {one.id: one for one in assessments}, book, kept)

    from fitcheck.marking.progress import DatedSheet, progress_of     # not imported here: they take longer
    from fitcheck.marking.progress_plots import marks_plot, shares_plot
    person = progress_of([DatedSheet(day, "horse and visit", sheet), ...], book)
    svg = marks_plot(person, book)

Everything is a pure function of its arguments, but for the id and the time that ``override_of`` and ``hand_marks_of``
give.
"""

from fitcheck.marking.apply_overrides import override_of
from fitcheck.marking.by_hand import HandMarks, HandMarksRequest, hand_marks_of, parse_hand_marks
from fitcheck.marking.marks import mark_of, sheet_of_visit
from fitcheck.marking.overrides import Change, Override, OverrideRequest, parse_override
from fitcheck.marking.sheet import MarkSheet, PairMarks, Tally, VisitSheet

__all__ = [
    "Change",
    "HandMarks",
    "HandMarksRequest",
    "MarkSheet",
    "Override",
    "OverrideRequest",
    "PairMarks",
    "Tally",
    "VisitSheet",
    "hand_marks_of",
    "mark_of",
    "override_of",
    "parse_hand_marks",
    "parse_override",
    "sheet_of_visit",
]
