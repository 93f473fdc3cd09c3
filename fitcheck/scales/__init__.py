"""The words of the eye of each quantity in their order on the measure, and where the rulebook has one end.

Both are data in ``scales.toml``; where a word ends is the limit of the rule that the file names.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Final

from pydantic import Field

from rules import Rulebook, Situation, resolve
from rules.model.figures import Record
from rules.model.records import Limit, Rule
from rules.situation import admits, side_of
from rules.toml import read_toml

__all__ = ["Scale", "ends_by_book", "limit_between", "scales"]

_PERCENT: Final = 100


class Scale(Record):
    """The words of one quantity, from the least measure on, and the rules whose limits lie between them."""

    words: tuple[str, ...] = Field(min_length=2)
    ends: tuple[tuple[str, ...], ...]
    """Between each two words: rules of the rulebook, of which the first that is admitted has the end."""
    everywhere: tuple[str, ...] = ()
    """Rules whose limit is a word's end also where nothing is found by it, and no other is admitted."""
    in_proportion_from: float | None = Field(default=None, gt=0)
    """From which measure on an eye errs in proportion to what there is; None: alike everywhere."""

    @property
    def in_proportion(self) -> bool:
        """Whether an eye errs in proportion to what there is."""
        return self.in_proportion_from is not None

    def on_line(self, value: float) -> float:
        """A measure on the line on which an eye errs alike everywhere: itself, or its natural logarithm."""
        return value if self.in_proportion_from is None else math.log(max(value, self.in_proportion_from))

    def u_on_line(self, value: float, u: float) -> float:
        """The standard uncertainty ``u`` of a measure on that line."""
        return u if self.in_proportion_from is None else u / max(value, self.in_proportion_from)

    def error_of(self, figure: float) -> float:
        """An error on that line in its unit: per cent, where an eye errs in proportion."""
        return _PERCENT * math.expm1(figure) if self.in_proportion else figure

    def error_on_line(self, error: float) -> float:
        """What ``error_of`` makes an error of."""
        return math.log1p(error / _PERCENT) if self.in_proportion else error

    def measure_of(self, figure: float) -> float:
        """What ``on_line`` makes a figure of that line of."""
        return math.exp(figure) if self.in_proportion else figure

    def ends_on_line(self, ends: Sequence[float | None]) -> tuple[float | None, ...]:
        """Ends of words on that line."""
        return tuple(None if end is None else self.on_line(end) for end in ends)

    @property
    def ordinary(self) -> tuple[str | None, ...]:
        """Between each two words the rule of the ordinary situation; None where the book has no end."""
        return tuple(names[0] if names else None for names in self.ends)


@cache
def scales() -> Mapping[str, Scale]:
    """By the quantity of the words, the scales that come with the tool."""
    table = read_toml(files(__package__).joinpath("scales.toml").read_text(encoding="utf-8"))
    return {name: Scale.model_validate(each, strict=False) for name, each in table["scales"].items()}


def ends_by_book(
    scale: Scale, place: str, situation: Situation, sizes: Mapping[str, float], book: Rulebook
) -> tuple[float | None, ...]:
    """Where the words of ``scale`` end by ``book`` in ``situation`` at ``place``, in the measure's unit.

    ``sizes``: what was read of the dimensions that limits follow. None where the book has no end, or its size is not
    known, or the ends would not be in order.
    """
    ends = [_end(names, scale, place, situation, sizes, book) for names in scale.ends]
    known = [end for end in ends if end is not None]
    return tuple(ends) if known == sorted(known) else (None,) * len(ends)


def limit_between(rule: Rule) -> Limit | None:
    """The limit of a rule at which one word ends and the next begins: its lower one, or else its upper one."""
    return rule.high if rule.low is None else rule.low


def _end(
    names: tuple[str, ...],
    scale: Scale,
    place: str,
    situation: Situation,
    sizes: Mapping[str, float],
    book: Rulebook,
) -> float | None:
    rules = [(name, book.rules[name]) for name in names if name in book.rules]
    admitted = [rule for _, rule in rules if admits(rule.applies, situation, side_of(place))]
    for rule in (*admitted, *(rule for name, rule in rules if name in scale.everywhere)):
        found = resolve(limit_between(rule), sizes)
        if found is not None:
            return float(found)
    return None
