"""Where a quantity can be read: every situation and place, ordinary ones first, so that examples are ordinary feet."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Final

from rules.model.records import STAGES, Judges, Stage
from rules.rulebook import Rulebook
from rules.situation import Observables, Situation, admits, side_of, situations, spot_of

__all__ = ["context_text", "is_read", "ordinary_first", "places_on", "read_at", "stages_of"]

_ORDINARY: Final = {"fore": 0, "draught": 0, "harness": 1, "riding": 2, "regular": 0, "yes": 0}


def _rank(situation: Situation) -> tuple[int, ...]:
    last = len(_ORDINARY)
    words = (situation.hot_fitted, situation.hoof_form, situation.stance, situation.work, situation.foot)
    return (*(_ORDINARY.get(word, last) for word in words), STAGES.index(situation.stage))


def ordinary_first(book: Rulebook) -> tuple[Situation, ...]:
    """Every situation that ``book`` judges."""
    return _sorted(book.judges)


@cache
def _sorted(judges: Judges) -> tuple[Situation, ...]:
    return tuple(sorted(situations(judges), key=_rank))


def places_on(spot: str, number: int = 1) -> tuple[str, ...]:
    """The single places that a place of the book stands for: for the nails, the ``number``-th of either branch."""
    return (f"nail:medial:{number}", f"nail:lateral:{number}") if spot == "nail" else (spot,)


def stages_of(book: Rulebook, quantity: str) -> tuple[Stage, ...]:
    """The stages at which a quantity can be observed; all that are judged for one that belongs to no criterion."""
    criterion = book.criterion_of.get(quantity)
    if criterion is None:
        return book.judges.stages
    return (*book.criteria[criterion].stages, *book.quantities[quantity].also_at)


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
    stages = frozenset(stages_of(book, quantity))
    places = [
        (place, side_of(place), observables[quantity, spot].where)
        for spot in book.quantities[quantity].places
        if (quantity, spot) in observables
        for place in places_on(spot)
    ]
    for situation in ordinary_first(book):
        if situation.stage in stages:
            yield from ((place, situation) for place, side, where in places if admits(where, situation, side))


@cache
def context_text(situation: Situation) -> str:
    """A situation in a few words, for messages."""
    hot = "fitted hot" if situation.hot_fitted == "yes" else "fitted cold"
    form = situation.hoof_form.replace("_", "-")
    if situation.stance != "regular":
        form = f"{form}, {situation.stance.replace('_', '-')}"
    return f"{situation.foot} foot, {form}, {situation.work}, {situation.stage.replace('_', ' ')}, {hot}"
