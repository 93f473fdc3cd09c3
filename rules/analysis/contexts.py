"""Where a quantity can be read: every situation and place, ordinary ones first, so that examples are ordinary feet."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from typing import Final

from rules.model.contexts import BranchSide, Context
from rules.model.records import STAGES, Judges, Stage
from rules.rulebook import Rulebook
from rules.situation import Observables, Situation, admits, side_of, situations, spot_of

__all__ = [
    "Situations",
    "admitted",
    "context_text",
    "first_of",
    "is_read",
    "ordinary_first",
    "parted",
    "places_on",
    "read_at",
    "stages_in",
    "stages_of",
]

Situations = int
"""A set of situations: a bit for each in the order of :func:`ordinary_first`, the first the lowest.

The analysis asks of hundreds of rules in which of 864 situations they count: 2.5 s for the shipped book one by one, and
1.1 s so.
"""

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


def read_at(book: Rulebook, observables: Observables, quantity: str) -> dict[str, Situations]:
    """Where ``quantity`` can be read: at each place the situations, none left out."""
    judges, stages = book.judges, frozenset(stages_of(book, quantity))
    at_a_stage = _bits(judges, lambda situation: situation.stage in stages)
    return {
        place: at_a_stage & admitted(judges, observables[quantity, spot].where, side_of(place))
        for spot in book.quantities[quantity].places
        if (quantity, spot) in observables
        for place in places_on(spot)
    }


@cache
def admitted(judges: Judges, contexts: tuple[Context, ...] | None, side: BranchSide | None) -> Situations:
    """The situations in which any of ``contexts`` holds on ``side``; all where None."""
    return _bits(judges, lambda situation: admits(contexts, situation, side))


def stages_in(judges: Judges, found: Situations) -> set[Stage]:
    """The stages of the situations ``found``."""
    return {situation.stage for number, situation in enumerate(_sorted(judges)) if found >> number & 1}


def first_of(judges: Judges, read: Mapping[str, Situations]) -> tuple[str, Situation] | None:
    """The most ordinary situation of all that ``read`` has, with the first place that has it; None of none."""
    place = min((each for each in read if read[each]), key=lambda each: _lowest(read[each]), default=None)
    return None if place is None else (place, _sorted(judges)[_lowest(read[place])])


def parted(
    judges: Judges, read: Situations, by: Sequence[Situations]
) -> Iterator[tuple[int, Situation, tuple[bool, ...]]]:
    """``read`` in parts, in each of which every one of ``by`` holds everywhere or nowhere.

    Of each part the number of its most ordinary situation, that situation, and which of ``by`` hold.
    """
    parts: list[tuple[Situations, tuple[bool, ...]]] = [(read, ())] if read else []
    for each in by:
        parts = [
            (part, (*held, holds))
            for whole, held in parts
            for part, holds in ((whole & each, True), (whole & ~each, False))
            if part
        ]
    for part, held in parts:
        yield _lowest(part), _sorted(judges)[_lowest(part)], held


def _lowest(found: Situations) -> int:
    return (found & -found).bit_length() - 1


def _bits(judges: Judges, holds: Callable[[Situation], bool]) -> Situations:
    return sum(1 << number for number, situation in enumerate(_sorted(judges)) if holds(situation))


@cache
def context_text(situation: Situation) -> str:
    """A situation in a few words, for messages."""
    hot = "fitted hot" if situation.hot_fitted == "yes" else "fitted cold"
    form = situation.hoof_form.replace("_", "-")
    if situation.stance != "regular":
        form = f"{form}, {situation.stance.replace('_', '-')}"
    return f"{situation.foot} foot, {form}, {situation.work}, {situation.stage.replace('_', ' ')}, {hot}"
