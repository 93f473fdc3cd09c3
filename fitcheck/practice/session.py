"""A session of practice as the telephone sends it: drawings by their recipes, and what was said of each."""

# No annotations from __future__: pydantic would evaluate their texts.

import re
from datetime import datetime
from typing import Annotated, Any, Final, Self

from pydantic import BeforeValidator, Field, TypeAdapter, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.identity import OpaqueId
from fitcheck.fitting.model_base import FittedFoot, Model, Number, contradiction
from fitcheck.fitting.validation import parsed_as, summary
from fitcheck.practice.exercises import EXERCISES, Exercise, ExerciseId
from fitcheck.practice.people import Answer
from fitcheck.vocabulary import utc

__all__ = ["MOST_DRAWINGS", "Drawing", "PracticeSession", "parse_practice", "practising_person"]

MOST_DRAWINGS: Final = 120
_MOST_BOUNDS: Final = 9
_LONGEST_MS: Final = 600_000
_LAST_SEED: Final = 2**32 - 1
_INSTANT: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,3})?Z", re.ASCII)
_UUID: Final = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.ASCII)
_PERSON: Final[TypeAdapter[str]] = TypeAdapter(OpaqueId)


def _refused(detail: str, allowed: str) -> PydanticCustomError:
    return PydanticCustomError("practice", "{detail}", {"detail": detail, "allowed": allowed})


def _instant(raw: Any) -> Any:
    try:
        if isinstance(raw, str) and _INSTANT.fullmatch(raw):
            return utc(datetime.fromisoformat(raw))
    except ValueError:
        pass
    raise _refused("This is no moment in UTC.", "UTC such as 2026-03-04T10:00:00Z")


def _uuid(raw: Any) -> Any:
    if isinstance(raw, str) and _UUID.fullmatch(raw):
        return raw
    raise _refused("This is no UUID.", "a UUID in small letters, made anew for each session")


Moment = Annotated[
    str,
    BeforeValidator(_instant, json_schema_input_type=Annotated[str, Field(json_schema_extra={"format": "date-time"})]),
]
SessionId = Annotated[
    str, BeforeValidator(_uuid, json_schema_input_type=Annotated[str, Field(json_schema_extra={"format": "uuid"})])
]


class Drawing(Model):
    """One drawing, and what was said of it."""

    seed: Annotated[int, Field(ge=0, le=_LAST_SEED)]
    """What form, side, light and scale of the drawing were made of."""
    foot: FittedFoot
    place: Annotated[str, Field(min_length=1, max_length=32)]
    """A place of the exercise, such as lateral_heel."""
    value: Number
    """The true value, in the unit of the exercise."""
    word: Annotated[str, Field(min_length=1, max_length=32)]
    """The word that was said."""
    ms: Annotated[int, Field(ge=0, le=_LONGEST_MS)]
    """Milliseconds from the drawing to the word."""


class PracticeSession(Model):
    """What somebody practised in one go."""

    id: SessionId
    """Made on the telephone: sending the same session again keeps nothing twice."""
    exercise: ExerciseId
    began: Moment
    ended: Moment
    bounds: Annotated[list[Number], Field(min_length=1, max_length=_MOST_BOUNDS)]
    """Where the words ended in the book by which the truth was told, in order."""
    drawings: Annotated[list[Drawing], Field(min_length=1, max_length=MOST_DRAWINGS)]
    """In the order in which they were answered."""

    @model_validator(mode="after")
    def _of_one_piece(self) -> Self:
        exercise = EXERCISES[self.exercise]
        if datetime.fromisoformat(self.ended) < datetime.fromisoformat(self.began):
            raise contradiction("ended", "the session ends before it begins.", f"{self.began} or later")
        if len(self.bounds) != len(exercise.words) - 1 or sorted(set(self.bounds)) != self.bounds:
            allowed = f"{len(exercise.words) - 1} numbers, each greater than the one before"
            raise contradiction("bounds", "these are not the ends of the exercise's words.", allowed)
        for number, drawing in enumerate(self.drawings):
            _require_of(exercise, drawing, f"drawings.{number}")
        return self

    @property
    def answers(self) -> tuple[Answer, ...]:
        """What was drawn and said, as the psychometric model takes it."""
        words, bounds = EXERCISES[self.exercise].words, tuple(self.bounds)
        return tuple(Answer(each.value, words.index(each.word), bounds) for each in self.drawings)

    @property
    def right_words(self) -> int:
        """How many words were those of the book."""
        exercise = EXERCISES[self.exercise]
        return sum(each.word == exercise.word_of(each.value, self.bounds) for each in self.drawings)


def _require_of(exercise: Exercise, drawing: Drawing, path: str) -> None:
    if drawing.word not in exercise.words:
        raise contradiction(f"{path}.word", "this is no word of the exercise.", f"one of {', '.join(exercise.words)}")
    if drawing.place not in exercise.places:
        raise contradiction(
            f"{path}.place", "this is no place of the exercise.", f"one of {', '.join(exercise.places)}"
        )
    if not exercise.low <= drawing.value <= exercise.high:
        allowed = f"{exercise.low:g} to {exercise.high:g} {exercise.unit}"
        raise contradiction(f"{path}.value", "this lies beyond what is drawn.", allowed)


def parse_practice(raw: object) -> PracticeSession:
    """The session that ``raw``, a parsed JSON document, describes. Raises BadInput."""
    return parsed_as(PracticeSession, raw, called="session")


def practising_person(person: str) -> str:
    """The same id, held to what ids of persons are in fittings. Raises BadInput."""
    try:
        return _PERSON.validate_python(person, strict=True)
    except ValidationError as error:
        allowed = "an opaque id of letters, digits and . _ - : only, 64 characters at most"
        detail = "This is no id of a person. Write the one that stands in the fittings."
        raise BadInput([Problem("path.person", summary(person), allowed, detail)]) from error
