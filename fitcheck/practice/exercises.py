"""What is practised: ordered words of the eye, and where each ends in the book that judges."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any, Final, Literal

from fitcheck.scales import limit_between, scales
from rules import Rulebook
from rules.model.records import Limit, Scaled
from rules.toml import read_toml

__all__ = ["DRAWINGS", "EXERCISES", "Exercise", "ExerciseId", "Model", "exercises_of", "model"]

ExerciseId = Literal["heel_width", "toe", "nail_line", "gap", "exit_height", "level", "imprint", "axis"]


@dataclass(frozen=True, slots=True)
class Model:
    """The grid of people: bias and spread run in scales of an exercise, lapses as shares of answers."""

    bias: tuple[float, float]
    """The least and the greatest bias."""
    spread: tuple[float, float]
    """The least and the greatest spread."""
    lapse: tuple[float, ...]
    lapse_weight: tuple[float, ...]
    """The prior weights of the lapses; bias and the logarithm of spread are uniform."""
    choice: tuple[int, int]
    """How many biases and spreads stand in the grid by which the next drawing is chosen."""
    estimate: tuple[int, int]
    """How many stand in the one by which bias and spread are told."""
    candidates: int
    """Among how many values the next drawing is chosen."""
    level: float
    """What of the posterior an interval holds."""
    edge: float
    """An end that falls into so much of the grid at either edge is open."""
    drawings: int
    """Drawings of a session."""
    needed: int
    """With fewer answers, it is said that they say little."""
    slips: float
    """From this share of lapses on they are told."""
    every: int
    """One drawing in so many comes from the whole range and not from the choice."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """One thing to practise; numbers in ``unit`` (mm, deg, or 1 for a share)."""

    id: ExerciseId
    quantity: str | None
    """The quantity that is measured; None where the book has only the word."""
    by_eye: str
    """The quantity of the word."""
    words: tuple[str, ...]
    """In the order of the number."""
    bounds: tuple[float, ...]
    """Where each word but the last ends."""
    unit: Literal["mm", "deg", "1"]
    low: float
    high: float
    """The range that is drawn."""
    spoken: str
    """The field's quantity, under whose name the words have their texts."""
    decimals: int
    """How many are told; of a share in per cent."""
    scale: float
    """The size of an ordinary error of the eye, in which the grid of people is laid."""
    places: tuple[str, ...]

    def word_of(self, value: float, bounds: Sequence[float] | None = None) -> str:
        """The word for ``value`` by the book's bounds, or by others; a bound itself still belongs to the word below."""
        return self.words[sum(value > bound for bound in (self.bounds if bounds is None else bounds))]


@cache
def _written() -> Mapping[str, Any]:
    return read_toml((files("fitcheck.practice") / "exercises.toml").read_text(encoding="utf-8"))


@cache
def model() -> Model:
    """The grid of people, as it stands in exercises.toml."""
    written = _written()["model"]
    names = Model.__dataclass_fields__
    return Model(**{name: _frozen(value) for name, value in written.items() if name in names})


def _frozen(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _without_bounds(name: ExerciseId, written: Mapping[str, Any]) -> Exercise:
    values = {key: _frozen(value) for key, value in written.items() if key not in _APART}
    if "words" not in values:
        values["words"] = scales()[written["by_eye"]].words
    return Exercise(**{"quantity": None} | values, id=name, bounds=())


_APART: Final = {"bounds", "status", "basis"}
EXERCISES: Final[Mapping[ExerciseId, Exercise]] = {
    name: _without_bounds(name, each) for name, each in _written()["exercises"].items()
}
"""All that there are, in the order in which they are offered; what a word ends at is a book's to say."""
DRAWINGS: Final = model().drawings


def exercises_of(book: Rulebook) -> dict[ExerciseId, Exercise]:
    """What can be practised by ``book``, in the order in which it is offered: exercises whose words and bounds it has.

    A limit that follows a dimension counts without it (heels that are not turned in).
    """
    found: dict[ExerciseId, Exercise] = {}
    for name, written in _written()["exercises"].items():
        quantity = book.quantities.get(written["by_eye"])
        if quantity is None or set(EXERCISES[name].words) != set(quantity.vocabulary):
            continue
        bounds = list(_bounds(written, book))
        known = [bound for bound in bounds if bound is not None]
        if len(known) < len(bounds) or sorted(set(known)) != known:
            continue
        found[name] = replace(EXERCISES[name], bounds=tuple(known))
    return found


def _bounds(written: Mapping[str, Any], book: Rulebook) -> Iterator[float | None]:
    """Each bound by the book; None of one that it does not have."""
    if "bounds" not in written:
        for name in scales()[written["by_eye"]].ordinary:
            rule = book.rules.get(name or "")
            yield _plain(limit_between(rule)) if rule is not None else None
        return
    for each in written["bounds"]:
        if isinstance(each, Mapping):
            rule = book.rules.get(each["rule"])
            yield _plain(getattr(rule, each["end"])) if rule is not None else None
        else:
            yield float(each)


def _plain(limit: Limit | None) -> float | None:
    return limit.plus if isinstance(limit, Scaled) else limit
