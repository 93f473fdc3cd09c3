"""What is told of an eye (JSON field names are for outside clients)."""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from typing import Literal

from pydantic import Field

from fitcheck.assessment.models import Output
from fitcheck.documented import DayText
from fitcheck.practice.outcome import PracticeOutcome

__all__ = [
    "BesideAssessors",
    "Curve",
    "EyeFigure",
    "EyeGroup",
    "EyeQuantity",
    "EyeTrend",
    "EyeView",
    "EyeVisit",
    "EyeWordRange",
    "LeftOutWords",
]


class Curve(Output):
    """What a word of a person is worth, without the pairs that it was made of."""

    words: tuple[str, ...]
    """From the least measure on."""
    unit: str
    in_proportion: bool = False
    """Whether the eye errs in proportion to what there is: then all below is of natural logarithms of measures in
    ``unit``, and not in it."""
    offsets: tuple[float, ...]
    """How far off the book's end each word ends, in ``unit``."""
    spread: float = Field(gt=0)
    """Standard deviation of the eye, in ``unit``."""
    lapse: float
    """The share of words taken as said without looking: the mean of what the pairs leave likely."""
    covariance: tuple[tuple[float, ...], ...]
    """Of the offsets and the natural logarithm of the spread."""
    values: tuple[float, ...]
    """How true values are spread: equally likely ones, in ``unit``."""
    width: float = Field(gt=0)
    """By how much each of these is blurred, as a standard deviation in ``unit``."""


class EyeFigure(Output):
    """A figure with its interval, which holds the true value in about 95 of 100 such samples."""

    value: float | None
    """The likeliest; null where the pairs leave it open."""
    low: float | None
    """null: open; smaller ones cannot be told from it."""
    high: float | None
    """null: open; greater ones cannot be told from it."""


class EyeWordRange(Output):
    """Where one word of a person begins and ends."""

    word: str
    count: int
    """How often it was used among these pairs."""
    begins: EyeFigure | None
    """null of the word of the least measures, and of one that was never used."""
    ends: EyeFigure | None
    """null of the word of the greatest measures, and of one that was never used."""


class EyeGroup(Output):
    """Pairs of one quantity: all, or those of one side, or of fore or hind feet."""

    side: Literal["medial", "lateral"] | None
    """null: both."""
    feet: Literal["fore", "hind"] | None
    """null: both."""
    pairs: int
    horses: int
    """How many horses they are of: feet of one horse tell less than as many of others."""
    missing: int
    """How many pairs more it takes until anything is told."""
    follows: bool
    """Whether greater measures have the greater words, and not too many of them fit nowhere; else nothing is told."""
    bias: EyeFigure | None
    """How much more is seen than there is, on the mean over the book's ends, in the quantity's ``error_unit``; null of
    too few pairs, or without such ends."""
    spread: EyeFigure | None
    """Standard deviation of the eye about its bias, as the ordered probit has it, in the quantity's ``error_unit``; of
    25 %, two looks in three lie between their middle divided by 1.25 and times 1.25. Null of too few pairs."""
    separate: bool
    """Whether words lie apart on the measure: the spread may then be none at all, and its interval is open below."""
    words: tuple[EyeWordRange, ...]
    """Empty of too few pairs, and where one word alone was used."""
    say: tuple[str, ...]
    """The same in sentences."""


class BesideAssessors(Output):
    """A person's words beside those that assessors said of the same thing."""

    words: int
    same: int
    share: float | None
    low: float | None
    """95 % interval of the share; words of one horse go together."""
    high: float | None
    less: int
    """Words that stand for less than the assessor's."""
    more: int
    say: str


class EyeVisit(Output):
    """What one visit tells."""

    day: DayText
    visit: str
    pairs: int
    right: int
    """Words beside a measure that lies between the ends of that word by the book."""


class EyeTrend(Output):
    """Which way the share of right words runs over the visits."""

    way: Literal["up", "down", "not_shown", "too_few"]
    visits: int
    chance: float | None
    """How probable at least so strong a run is by chance alone; null where it was not computed."""
    say: str


class EyeQuantity(Output):
    """One quantity that a person judges by eye."""

    quantity: str
    title: str
    unit: str
    error_unit: str
    """That of bias and spread: the ``unit``; or %, where the eye errs in proportion to what there is, as of time."""
    pairs: int
    missing: int
    groups: tuple[EyeGroup, ...]
    """The first has all pairs; the others are told where there are enough."""
    by_assessors: EyeGroup | None
    """Only the pairs that an assessor measured; null where that is all or none."""
    beside_assessors: BesideAssessors
    visits: tuple[EyeVisit, ...]
    trend: EyeTrend
    curve: Curve | None
    """What a word of it is worth in an assessment; null of too few pairs."""


class LeftOutWords(Output):
    """Words that are no pair, by why."""

    whole_group: int
    """Said of a whole group with one button."""
    perhaps_whole_group: int
    """The record does not say how they were said, and that button may have said them."""
    measured_before: int
    """The same person had measured the thing already."""
    not_measured: int
    """Nobody measured it, at this stage and before it was put right."""


class EyeView(Output):
    """How good the eye of one person is, as far as kept records tell."""

    person: str
    version: str
    """Names all that follows from the curves: the same version, the same chances."""
    scales: str
    """The version of the words' order and of what is taken for known."""
    words: int
    pairs: int
    left_out: LeftOutWords
    unread: int
    """Records that this version does not read."""
    fewest_pairs: int = Field(ge=1)
    """From so many pairs on something is told."""
    quantities: tuple[EyeQuantity, ...]
    practice: PracticeOutcome | None
    """What practice by drawings tells beside it; null where nothing was practised."""
    practise: str | None
    """The quantity to practise next; null where nothing can be told."""
    say: tuple[str, ...]
    """All of it in sentences."""
