"""Where a rule applies: the circumstances of one fitting, and whether a rule's contexts admit them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, lru_cache
from itertools import product
from typing import Any, Final, NamedTuple, get_args

from rules.model.records import BranchSide, Context, Foot, HoofForm, Judges, Stage, Stance, Work, Yes

__all__ = [
    "VOCABULARY",
    "Observable",
    "Observables",
    "Situation",
    "admits",
    "side_of",
    "situations",
    "spot_of",
    "words_of",
]

VOCABULARY: Final[dict[str, tuple[str, ...]]] = {
    "foot": get_args(Foot),
    "stage": get_args(Stage),
    "work": get_args(Work),
    "hoof_form": get_args(HoofForm),
    "stance": get_args(Stance),
    "hot_fitted": get_args(Yes),
    "side": get_args(BranchSide),
}
"""The closed words of each key of a context."""


class Situation(NamedTuple):
    """What holds for the whole foot: fore or hind, stage and kind of work, form of the hoof, hot or cold, stance."""

    foot: Foot
    stage: Stage
    work: Work
    hoof_form: HoofForm
    hot_fitted: Yes
    stance: Stance = "regular"


@lru_cache(maxsize=512)
def side_of(place: str) -> BranchSide | None:
    """The branch that a place belongs to, or None for the toe, the sole and the whole foot.

    >>> side_of("medial_heel"), side_of("nail:lateral:2"), side_of("toe")
    ('medial', 'lateral', None)
    """
    head = place.removeprefix("nail:")
    if head.startswith("medial"):
        return "medial"
    return "lateral" if head.startswith("lateral") else None


def spot_of(place: str) -> str:
    """The kind of place: every single nail is a ``nail``, every other place is itself."""
    return "nail" if place.startswith("nail:") else place


def admits(contexts: tuple[Context, ...] | None, situation: Situation, side: BranchSide | None) -> bool:
    """Whether any of ``contexts`` (all places when None) holds in ``situation`` on ``side``."""
    return contexts is None or any(_holds(context, situation, side) for context in contexts)


def _holds(context: Context, situation: Situation, side: BranchSide | None) -> bool:
    return (
        (context.foot is None or situation.foot in context.foot)
        and (context.stage is None or situation.stage in context.stage)
        and (context.work is None or situation.work in context.work)
        and (context.hoof_form is None or situation.hoof_form in context.hoof_form)
        and (context.stance is None or situation.stance in context.stance)
        and (context.hot_fitted is None or situation.hot_fitted in context.hot_fitted)
        and (context.side is None or side in context.side)
    )


def words_of(judges: Judges) -> dict[str, tuple[Any, ...]]:
    """The words that each part of a situation can have in a book, in the order of :class:`Situation`."""
    return {
        "foot": get_args(Foot),
        "stage": judges.stages,
        "work": get_args(Work),
        "hoof_form": judges.hoof_forms,
        "hot_fitted": get_args(Yes),
        "stance": judges.stances,
    }


@cache
def situations(judges: Judges) -> tuple[Situation, ...]:
    """Every situation that a book judges, for checks that must hold in all of them."""
    return tuple(Situation(*words) for words in product(*words_of(judges).values()))


class Observable(NamedTuple):
    """How one quantity comes to be read at one place.

    ``stated``: a client can state it; otherwise it is computed.  ``unit`` of a number, in which it is computed;
    ``words`` that can be given otherwise.  ``where`` it can be given at all, anywhere when None.  ``in_every_book``:
    the first contract had it; what came later a rulebook need not know, and then it is kept and not judged.
    """

    stated: bool
    unit: str | None = None
    words: tuple[str, ...] = ()
    where: tuple[Context, ...] | None = None
    in_every_book: bool = True


Observables = Mapping[tuple[str, str], Observable]
"""What can be read: by quantity and place, ``nail`` standing for every nail."""
