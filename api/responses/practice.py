"""What is answered of practice: exercises by the service's book, and sessions as they are kept."""

from __future__ import annotations

from typing import Literal, Self

from fitcheck.assessment.models import Output, RulebookIdentity
from fitcheck.documented import Instant
from fitcheck.practice import ExerciseId, PracticeSession, exercises_of
from fitcheck.practice.exercises import Exercise, model
from fitcheck.records.practice import StoredPractice
from rules import Rulebook

__all__ = ["PracticeOffer", "StoredSession", "StoredSessions"]


class OfferedExercise(Output):
    """One thing to practise; numbers in ``unit``."""

    id: ExerciseId
    quantity: str | None
    """What is measured; null where the rulebook has only the word."""
    by_eye: str
    """The quantity of the word."""
    spoken: str
    """The field under whose name the words stand in the texts of the page."""
    words: tuple[str, ...]
    """In the order of what is measured."""
    bounds: tuple[float, ...]
    """Where each word but the last ends."""
    unit: Literal["mm", "deg", "1"]
    """1: a share."""
    low: float
    """The least that is drawn."""
    high: float
    """The greatest that is drawn."""
    scale: float
    """An ordinary error of the eye, in which bias and spread of the grid are laid."""
    decimals: int
    """How many are told; of a share in per cent."""
    places: tuple[str, ...]

    @classmethod
    def of(cls, exercise: Exercise) -> Self:
        """The exercise as it is offered."""
        return cls(**{name: getattr(exercise, name) for name in cls.model_fields})


class PeopleGrid(Output):
    """The grid of people by which the next drawing is chosen and the outcome told."""

    bias: tuple[float, float]
    """The least and the greatest, in scales of the exercise."""
    spread: tuple[float, float]
    """The least and the greatest, in scales; evenly in the logarithm."""
    lapse: tuple[float, ...]
    """Shares of answers at which nothing is looked at."""
    lapse_weight: tuple[float, ...]
    """Prior weights of these."""
    choice: tuple[int, int]
    """How many biases and spreads, for choosing."""
    estimate: tuple[int, int]
    """How many, for telling."""
    candidates: int
    """Among how many values the next drawing is chosen."""
    level: float
    """What of the posterior an interval holds."""
    edge: float
    """An end that falls into so much of the grid at either edge is open."""
    drawings: int
    """Drawings of a session."""
    every: int
    """One drawing in so many comes from the whole range."""
    needed: int
    """With fewer answers, it is said that they say little."""
    slips: float
    """From this share of lapses on they are told."""


class PracticeOffer(Output):
    """What can be practised by the service's rulebook."""

    exercises: tuple[OfferedExercise, ...]
    people: PeopleGrid
    rulebook: RulebookIdentity

    @classmethod
    def of(cls, book: Rulebook) -> Self:
        """What can be practised by ``book``."""
        grid = model()
        return cls(
            exercises=tuple(OfferedExercise.of(each) for each in exercises_of(book).values()),
            people=PeopleGrid(**{name: getattr(grid, name) for name in PeopleGrid.model_fields}),
            rulebook=RulebookIdentity.of(book),
        )


class StoredSession(PracticeSession):
    """A session as it is kept."""

    person: str
    created: Instant
    """When it was kept."""
    right: int
    """Words that were those of the book."""

    @classmethod
    def of(cls, stored: StoredPractice) -> Self:
        """The session as it is answered."""
        more = {"person": stored.person, "created": stored.created, "right": stored.session.right_words}
        return cls.model_validate(stored.session.model_dump() | more)


class StoredSessions(Output):
    """Some of a person's sessions, the latest first."""

    sessions: tuple[StoredSession, ...]
    next: str | None
    """What before takes for those that come after these; null at the end."""
