"""Where a quantity can be read: every situation and place, ordinary ones first, so that examples are ordinary feet."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import product
from typing import Final

from rules.model import STAGES, Stage
from rules.rulebook import Rulebook
from rules.situation import Observables, Situation, admits, every_situation, side_of, spot_of

__all__ = ["SITUATIONS", "context_text", "is_read", "places_on", "read_at", "stages_of"]

_ORDINARY: Final = {"fore": 0, "draught": 0, "harness": 1, "riding": 2, "regular": 0, "yes": 0}


def _rank(situation: Situation) -> tuple[int, ...]:
    last = len(_ORDINARY)
    words = (situation.hot_fitted, situation.hoof_form, situation.work, situation.foot)
    return (*(_ORDINARY.get(word, last) for word in words), STAGES.index(situation.stage))


SITUATIONS: Final = tuple(
    sorted(
        # The trial of a hot shoe is hot.
        (each for each in every_situation() if each.stage != "hot_fit" or each.hot_fitted == "yes"),
        key=_rank,
    )
)
"""Every situation that a foot can be in."""


def places_on(spot: str, number: int = 1) -> tuple[str, ...]:
    """The single places that a place of the book stands for: for the nails, the ``number``-th of either branch."""
    return (f"nail:medial:{number}", f"nail:lateral:{number}") if spot == "nail" else (spot,)


def stages_of(book: Rulebook, quantity: str) -> tuple[Stage, ...]:
    """The stages at which a quantity's criterion can be observed; all for one that belongs to none."""
    criterion = book.criterion_of.get(quantity)
    return STAGES if criterion is None else book.criteria[criterion].stages


def is_read(book: Rulebook, observables: Observables, quantity: str, place: str, situation: Situation) -> bool:
    """Whether ``quantity`` can be read at ``place`` in ``situation``."""
    observable = observables.get((quantity, spot_of(place)))
    return (
        observable is not None
        and situation.stage in stages_of(book, quantity)
        and admits(observable.where, situation, side_of(place))
    )


def read_at(book: Rulebook, observables: Observables, quantity: str) -> Iterator[tuple[str, Situation]]:
    """Every place and situation in which ``quantity`` can be read."""
    spots = book.quantities[quantity].places
    for situation, spot in product(SITUATIONS, spots):
        for place in places_on(spot):
            if is_read(book, observables, quantity, place, situation):
                yield place, situation


@cache
def context_text(situation: Situation) -> str:
    """A situation in a few words, for messages."""
    hot = "fitted hot" if situation.hot_fitted == "yes" else "fitted cold"
    form = situation.hoof_form.replace("_", "-")
    return f"{situation.foot} foot, {form}, {situation.work}, {situation.stage.replace('_', ' ')}, {hot}"
