"""What a person's sessions tell: of each exercise bias, spread and words, by weeks and by places, and what comes next.

All answers of an exercise count together, the latest ``MOST_ANSWERS`` of them; each by the bounds of its own session.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from statistics import median
from typing import Final, Literal

from fitcheck.assessment.models import Output
from fitcheck.documented import DayText
from fitcheck.fitting.model_base import FittedFoot
from fitcheck.practice.estimates import Estimate, Eye, eye_of
from fitcheck.practice.exercises import EXERCISES, Exercise, ExerciseId, exercises_of, model
from fitcheck.practice.people import Answer
from fitcheck.practice.sentences import bias_of, sentences, title_of
from fitcheck.practice.session import Drawing, PracticeSession
from fitcheck.text.catalogue import capital, messages_of
from fitcheck.text.format import place_name
from rules import Rulebook

__all__ = ["MOST_SESSIONS", "ExerciseOutcome", "PracticeOutcome", "outcome_of"]

MOST_ANSWERS: Final = 360
"""Twelve sessions: what is older tells of another eye."""
MOST_SESSIONS: Final = MOST_ANSWERS * len(EXERCISES)
"""Sessions that an outcome looks at, at most: more answers than it counts are in fewer."""
_MOST_WEEKS: Final = 26
_MS: Final = 1000


class Interval(Output):
    """The middle of what the answers leave likely, and an interval; an open end is null."""

    value: float
    low: float | None
    high: float | None


class WordSpan(Output):
    """Where one word begins and ends for this eye, and in the book; the first has no begin, the last no end."""

    word: str
    begins: float | None
    ends: float | None
    book_begins: float | None
    book_ends: float | None


class PracticeWeek(Output):
    """What the answers of one week tell by themselves."""

    week: DayText
    """Its Monday."""
    answers: int
    bias: Interval
    spread: Interval


class PracticePart(Output):
    """What the answers at one place of fore or hind feet tell by themselves."""

    hoof: Literal["fore", "hind"]
    place: str
    answers: int
    bias: Interval
    spread: Interval
    say: str | None
    """Null where it does not settle that the eye errs here otherwise than at all places together."""


class ExerciseOutcome(Output):
    """One exercise over all sessions."""

    exercise: ExerciseId
    title: str
    unit: Literal["mm", "deg", "1"]
    sessions: int
    answers: int
    right: int
    """Words as in the book."""
    seconds: float
    """The median time from a drawing to its word."""
    bias: Interval
    """How much higher the bounds of this eye lie than the book's, in ``unit``."""
    spread: Interval
    """Standard deviation from one look to the next, in ``unit``."""
    lapse: float
    """Share of answers at which nothing was looked at."""
    words: tuple[WordSpan, ...]
    weeks: tuple[PracticeWeek, ...]
    parts: tuple[PracticePart, ...]
    say: tuple[str, ...]


class PracticeOutcome(Output):
    """Everything that a person's practice tells."""

    sessions: int
    exercises: tuple[ExerciseOutcome, ...]
    """Those that were practised and that the book still has."""
    next: ExerciseId | None
    """What to practise next; null where the book has nothing to practise."""
    say: str


def outcome_of(sessions: Iterable[PracticeSession], book: Rulebook) -> PracticeOutcome:
    """The outcome of one person's sessions, in any order, by the words of ``book`` and in its language."""
    messages, ordered = messages_of(book), sorted(sessions, key=lambda each: each.ended)
    found: list[ExerciseOutcome] = []
    faults: dict[ExerciseId, float] = {}
    for name, exercise in exercises_of(book).items():
        faults[name] = math.inf
        if theirs := [each for each in ordered if each.exercise == name]:
            found.append(_outcome(exercise, theirs, book))
            faults[name] = math.hypot(found[-1].bias.value, found[-1].spread.value) / exercise.scale
    following = max(faults, key=lambda name: faults[name], default=None)
    say = "" if following is None else messages.say("exercise.next", title=title_of(following, messages))
    if not found:
        say = f"{messages.say('exercise.person.nothing')} {say}".strip()
    return PracticeOutcome(sessions=len(ordered), exercises=tuple(found), next=following, say=say)


def _outcome(exercise: Exercise, sessions: Sequence[PracticeSession], book: Rulebook) -> ExerciseOutcome:
    messages = messages_of(book)
    answers = [answer for each in sessions for answer in each.answers][-MOST_ANSWERS:]
    right, eye = sum(each.right_words for each in sessions), eye_of(exercise, answers)
    drawings = [drawing for each in sessions for drawing in each.drawings]
    said = list(sentences(exercise, eye, min(right, eye.answers), messages))
    answered = list(zip(drawings[-MOST_ANSWERS:], answers, strict=True))
    parts = tuple(_parts(exercise, answered, eye.bias.value, book))
    return ExerciseOutcome(
        exercise=exercise.id,
        title=capital(title_of(exercise.id, messages)),
        unit=exercise.unit,
        sessions=len(sessions),
        answers=len(drawings),
        right=right,
        seconds=round(median(each.ms for each in drawings) / _MS, 1),
        bias=_interval(eye.bias),
        spread=_interval(eye.spread),
        lapse=_shown(eye.lapse),
        words=tuple(_words(exercise, eye)),
        weeks=tuple(_weeks(exercise, sessions)),
        parts=parts,
        say=(*said, *(part.say for part in parts if part.say is not None)),
    )


def _words(exercise: Exercise, eye: Eye) -> Iterator[WordSpan]:
    ends = [None, *exercise.bounds, None]
    for word, low, high in zip(exercise.words, ends, ends[1:], strict=False):
        own = [None if end is None else _shown(end + eye.bias.value) for end in (low, high)]
        yield WordSpan(word=word, begins=own[0], ends=own[1], book_begins=low, book_ends=high)


def _weeks(exercise: Exercise, sessions: Sequence[PracticeSession]) -> Iterator[PracticeWeek]:
    by_week: dict[date, list[Answer]] = {}
    for each in sessions:
        day = datetime.fromisoformat(each.ended).date()
        by_week.setdefault(day - timedelta(days=day.weekday()), []).extend(each.answers)
    for week, answers in sorted(by_week.items())[-_MOST_WEEKS:]:
        eye = eye_of(exercise, answers[-MOST_ANSWERS:])
        yield PracticeWeek(
            week=week.isoformat(), answers=len(answers), bias=_interval(eye.bias), spread=_interval(eye.spread)
        )


def _parts(
    exercise: Exercise, answered: Sequence[tuple[Drawing, Answer]], whole: float, book: Rulebook
) -> Iterator[PracticePart]:
    messages = messages_of(book)
    by_part: dict[tuple[Literal["fore", "hind"], str], list[Answer]] = {}
    for drawing, answer in answered:
        by_part.setdefault((_hoof(drawing.foot), drawing.place), []).append(answer)
    for (hoof, place), answers in sorted(by_part.items()):
        if len(answers) < model().needed or len(answers) == len(answered):
            continue
        eye = eye_of(exercise, answers)
        low, high = eye.bias.low, eye.bias.high
        apart = (low is not None and whole < low) or (high is not None and whole > high)
        yield PracticePart(
            hoof=hoof,
            place=place,
            answers=len(answers),
            bias=_interval(eye.bias),
            spread=_interval(eye.spread),
            say=bias_of(exercise, eye, messages, "exercise.person.at", where=_where(hoof, place, book))
            if apart
            else None,
        )


def _where(hoof: str, place: str, book: Rulebook) -> str:
    messages = messages_of(book)
    feet = messages.texts[f"exercise.foot.{hoof}"]
    if place in _WHOLE:
        return capital(feet)
    return messages.say("exercise.person.where", place=capital(place_name(place, book)), foot=feet)


_WHOLE: Final = frozenset({"foot", "nail"})
"""Places that say no more than which foot."""


def _hoof(foot: FittedFoot) -> Literal["fore", "hind"]:
    return "hind" if foot.endswith("hind") else "fore"


def _interval(estimate: Estimate) -> Interval:
    low, high = (None if end is None else _shown(end) for end in estimate[1:])
    return Interval(value=_shown(estimate.value), low=low, high=high)


def _shown(value: float) -> float:
    return round(value, 4)
