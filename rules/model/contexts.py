"""Words of the trade that records are made of, and the contexts in which a rule applies."""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from collections.abc import Mapping
from typing import Any, Final, Literal, get_args

from pydantic import Field
from pydantic.config import JsonDict

from rules.model.figures import Record

__all__ = [
    "RANK",
    "STAGES",
    "BranchSide",
    "Context",
    "Fires",
    "Foot",
    "Grade",
    "HoofForm",
    "Method",
    "NextStep",
    "Order",
    "Stage",
    "Stance",
    "Work",
    "Yes",
    "own_ways",
    "sides_by_stance",
]

Grade = Literal["minor", "major", "critical"]
RANK: Final[Mapping[Grade, int]] = {grade: rank for rank, grade in enumerate(get_args(Grade))}
"""How grave each grade is."""
Order = Literal["welfare", "iron", "foot", "nails", "finish"]
Fires = Literal["simple", "guarded"]
Foot = Literal["fore", "hind"]
Stage = Literal["dressed", "hot_fit", "nailed", "finished"]
STAGES: Final[tuple[Stage, ...]] = get_args(Stage)
"""In the order of the work."""
NextStep = Literal["shoe", "nail_on", "clinch_and_finish"]
"""What follows a stage at which nothing holds the foot up."""
Work = Literal["riding", "harness", "draught"]
HoofForm = Literal["regular", "acute", "upright", "bear", "wide", "narrow", "base_wide", "base_narrow"]
"""base_wide and base_narrow are stances; as forms they are those of the first contract."""
Stance = Literal["regular", "base_wide", "base_narrow"]
"""How the limb stands over the hoof, seen from in front."""
BranchSide = Literal["medial", "lateral"]
Method = Literal["rule", "calliper", "feeler", "eye"]
"""How a length is measured."""
Yes = Literal["yes", "no"]


_SIDES_WRITTEN: Final[JsonDict] = {
    "type": "array",
    "minItems": 1,
    "items": {"enum": ["medial", "lateral", "full", "close"], "type": "string"},
}
"""What may be written; full and close are read as branches of the stances."""


class Context(Record):
    """Where a rule applies; keys are joined by 'and', the values of a key by 'or'."""

    foot: tuple[Foot, ...] | None = Field(default=None, min_length=1)
    """Fore or hind feet."""
    stage: tuple[Stage, ...] | None = Field(default=None, min_length=1)
    """Stages of the work."""
    work: tuple[Work, ...] | None = Field(default=None, min_length=1)
    """What the horse does."""
    hoof_form: tuple[HoofForm, ...] | None = Field(default=None, min_length=1)
    """Forms of the hoof."""
    stance: tuple[Stance, ...] | None = Field(default=None, min_length=1)
    """How the limb stands over the hoof, seen from in front."""
    side: tuple[BranchSide, ...] | None = Field(default=None, min_length=1, json_schema_extra=_SIDES_WRITTEN)
    """The branch; or by the stance full (where most weight falls) or close (the other)."""
    hot_fitted: tuple[Yes, ...] | None = Field(default=None, min_length=1)
    """Whether the shoe was tried hot: yes, no."""


_BY_STANCE: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "full": (("base_narrow", "lateral"), ("base_wide", "medial")),
    "close": (("base_narrow", "medial"), ("base_wide", "lateral")),
}
"""The stances and branches of the full side, where most weight falls and the iron stands out, and of the close one."""


def sides_by_stance(contexts: Any) -> Any:
    """Contexts that say ``side = ["full"]`` or ``["close"]``, written out by stance and branch."""
    if not isinstance(contexts, tuple):
        return contexts
    written: list[Any] = []
    for context in contexts:
        sides = context.get("side") if isinstance(context, dict) else None
        named = [side for side in sides if side in _BY_STANCE] if isinstance(sides, tuple) else []
        if not named:
            written.append(context)
        elif len(named) < len(sides or ()) or "stance" in context:
            raise ValueError("full and close say the stance and the branch by themselves: name neither beside them")
        else:
            pairs = (pair for side in named for pair in _BY_STANCE[side])
            written += ({**context, "stance": (stance,), "side": (branch,)} for stance, branch in pairs)
    return tuple(written)


def own_ways(ways: Any) -> Any:
    """The same of each word."""
    return {word: sides_by_stance(each) for word, each in ways.items()} if isinstance(ways, dict) else ways
