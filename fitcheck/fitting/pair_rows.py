"""What is read of a pair of feet: which difference comes of which quantity of either foot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from rules.model.records import Context

__all__ = ["PAIR_ROWS", "PairRow"]


class PairRow(NamedTuple):
    """One quantity of a pair of feet: how far what is read ``of`` the left foot lies above the same of the right.

    ``at`` names for each place of the pair the place of either foot, ``nail`` for the nails.  ``where`` it can be read,
    anywhere when None.  No foot alone gives it.
    """

    quantity: str
    of: str
    at: Mapping[str, str]
    unit: str
    where: tuple[Context, ...] | None = None


_PAIR: Final = "pair"
_SIDES: Final = ("medial_pair", "lateral_pair")
_WITH_NAILS: Final = (Context(stage=("nailed", "finished")),)

PAIR_ROWS: Final = (
    PairRow("length_apart", "length", dict(zip(_SIDES, ("medial_heel", "lateral_heel"), strict=True)), "mm"),
    PairRow("exit_height_apart", "exit_height", dict.fromkeys(_SIDES, "nail"), "mm", _WITH_NAILS),
    PairRow("exit_mean_apart", "exit_height", {_PAIR: "nail"}, "mm", _WITH_NAILS),
    PairRow("wall_angle_apart", "wall_angle", {_PAIR: "foot"}, "deg"),
    PairRow("wall_height_apart", "wall_height", {_PAIR: "foot"}, "mm"),
    PairRow("shoe_length_apart", "shoe_length", {_PAIR: "foot"}, "mm"),
)
"""What fitcheck/pairs computes from two feet."""
