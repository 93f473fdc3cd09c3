"""One branch's wall from the side, in mm: x back from the toe of the shoe, y up from the bearing edge.

Heights are along the wall, which leans back as the toe does: a point ``h`` up the wall lies ``h`` from its foot.
Where a nail may come out by the rules in force is a :class:`Band` of heights.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fitcheck.drawing.figure import Values
from fitcheck.drawing.svg import Point
from fitcheck.fitting.input_value import measured_value
from fitcheck.fitting.models import Fitting, Nail
from fitcheck.fitting.readings import nail_place, situation_of
from rules import Rulebook, Situation, in_force, resolve
from rules.model.records import BranchSide, Grade, Rule

__all__ = ["ANY_HEIGHT", "Band", "SideNail", "SideWall", "bands_of", "side_wall"]

_HEIGHT: Final = "exit_height"
_SHARE: Final = "exit_ratio"


@dataclass(frozen=True, slots=True)
class Band:
    """From ``low`` to ``high`` (mm); an end may be infinite, and low above high means nowhere."""

    low: float
    high: float

    @property
    def empty(self) -> bool:
        """Whether there is no such height."""
        return self.low > self.high


ANY_HEIGHT: Final = Band(-math.inf, math.inf)


def bands_of(
    place: str,
    wall_height: float | None,
    seen: Mapping[tuple[str, str], float | str],
    situation: Situation,
    book: Rulebook,
) -> tuple[Band, Band]:
    """The free and the borne band of one nail.

    Limits on the share of the wall's height count only where ``wall_height`` (mm) is known; a limit that follows a
    dimension only where ``seen``, every reading by quantity and place, has that dimension.
    """
    limits = list(_limits(place, wall_height, seen, situation, book))
    return _within(limits, {"minor", "major", "critical"}), _within(limits, {"major", "critical"})


def _within(limits: list[tuple[Grade, float, float]], grades: set[str]) -> Band:
    counted = [(low, high) for grade, low, high in limits if grade in grades]
    return Band(
        max((low for low, _ in counted), default=-math.inf), min((high for _, high in counted), default=math.inf)
    )


def _limits(
    place: str,
    wall_height: float | None,
    seen: Mapping[tuple[str, str], float | str],
    situation: Situation,
    book: Rulebook,
) -> Iterator[tuple[Grade, float, float]]:
    sizes = {name: value for (name, where), value in seen.items() if where == "foot" and not isinstance(value, str)}
    for quantity, scale in ((_HEIGHT, 1.0), (_SHARE, wall_height)):
        if scale is None or quantity not in book.quantities:
            continue
        for _, rule in in_force(book, situation).judging(quantity, place):
            if not _with_holds(rule, place, seen) or _is_barred(rule, place, seen):
                continue
            low, high = resolve(rule.low, sizes), resolve(rule.high, sizes)
            if low is not None or high is not None:
                yield (
                    rule.grade,
                    -math.inf if low is None else low * scale,
                    math.inf if high is None else high * scale,
                )


def _is_barred(rule: Rule, place: str, seen: Mapping[tuple[str, str], float | str]) -> bool:
    return any(
        seen.get((name, spot)) in words if words else (name, spot) in seen
        for name, words in (rule.without or {}).items()
        for spot in (place, "foot")
    )


def _with_holds(rule: Rule, place: str, seen: Mapping[tuple[str, str], float | str]) -> bool:
    return all(seen.get((word, place)) in words for word, words in (rule.with_ or {}).items())


# Data of the drawing, for what was not read (mm, deg, shares).
_LENGTH: Final = 160.0
_THICKNESS: Final = 11.0
_TOE_HEIGHT: Final = 88.0
_SLOPE: Final = 54.0
_HEEL_SHARE: Final = 0.45
_LOWEST_HEEL: Final = 0.5
_HEEL_COVER: Final = 10.0
_FIRST: Final = 0.13
_STEP: Final = 0.11
_LONGEST_COVER: Final = 0.4


@dataclass(frozen=True, slots=True)
class SideNail:
    """One nail in its branch; heights in mm along the wall, None where not read."""

    place: str
    hole: int
    foot: float
    """How far back it stands at the bearing edge (mm)."""
    foot_known: bool
    exit: float | None
    wall_height: float | None
    clinch: str | None
    free: Band
    borne: Band


@dataclass(frozen=True, slots=True)
class SideWall:
    """The wall, its shoe and its nails, from the toe back."""

    side: BranchSide
    length: float
    """Of the shoe, from toe to heel end."""
    thickness: float
    thickness_known: bool
    slope: float
    """Of the wall to the ground (deg)."""
    buttress: float
    """How far back the heel of the hoof stands."""
    toe_height: float
    toe_height_known: bool
    nails: Sequence[SideNail]
    observed: bool
    """Whether nails were observed at all."""
    banded: bool
    """Whether it is known in which bands the nails may come out."""

    def up(self, back: float, height: float) -> Point:
        """The point ``height`` up the wall from a foot ``back`` from the toe."""
        turn = math.radians(self.slope)
        return back + height * math.cos(turn), height * math.sin(turn)

    @property
    def hairline(self) -> list[tuple[Point, bool]]:
        """The upper border of the wall from toe to heel: its points, and whether each was read."""
        points = [(self.up(0.0, self.toe_height), self.toe_height_known)]
        read = [(nail.foot, nail.wall_height) for nail in self.nails if nail.wall_height is not None]
        points += [(self.up(back, height), True) for back, height in read if 0 < back < self.buttress]
        return [*points, (self.up(self.buttress, self._heel_height()), False)]

    def _heel_height(self) -> float:
        """Where the hairline comes down to, was it not read: on the straight line through what was, within bounds."""
        read = [(0.0, self.toe_height), *((nail.foot, nail.wall_height) for nail in self.nails if nail.wall_height)]
        back, height = max(read)
        usual = _HEEL_SHARE * self.toe_height
        if back <= 0:
            return usual
        fallen = (self.toe_height - height) / back
        return max(_LOWEST_HEEL * height, min(height, height - fallen * (self.buttress - back)))


def side_wall(side: BranchSide, fitting: Fitting, values: Values, book: Rulebook, *, banded: bool = True) -> SideWall:
    """The wall of one branch, from the fitting's readings; the bands of ``book`` only where ``banded``."""
    length = values.get(("shoe_length", "foot"), _LENGTH)
    cover = values.get(("length", f"{side}_heel"), _HEEL_COVER)
    driven = [nail for nail in fitting.observations.nails or () if nail.branch == side]
    nails = sorted(
        (_side_nail(nail, length, fitting, values, book, banded=banded) for nail in driven),
        key=lambda nail: (nail.foot, nail.hole),
    )
    return SideWall(
        side=side,
        length=length,
        thickness=values.get(("shoe_thickness", "foot"), _THICKNESS),
        thickness_known=("shoe_thickness", "foot") in values,
        slope=values.get(("wall_angle", "foot"), _SLOPE),
        buttress=length - max(-_LONGEST_COVER * length, min(_LONGEST_COVER * length, cover)),
        toe_height=values.get(("wall_height", "foot"), _TOE_HEIGHT),
        toe_height_known=("wall_height", "foot") in values,
        nails=nails,
        observed=fitting.observations.nails is not None,
        banded=banded,
    )


def _side_nail(
    nail: Nail, length: float, fitting: Fitting, values: Values, book: Rulebook, *, banded: bool
) -> SideNail:
    place = nail_place(nail)
    wall_height = None if nail.wall_height is None else measured_value(nail.wall_height, "wall_height", book).value
    words: dict[tuple[str, str], str | None] = {
        ("sound", place): nail.sound,
        ("reaction", place): nail.reaction,
        ("blood", place): None if nail.blood is None else ("yes" if nail.blood else "no"),
        ("clinch", place): nail.clinch,
    }
    seen: dict[tuple[str, str], float | str] = {
        **values,
        **{key: word for key, word in words.items() if word is not None},
    }
    free = borne = ANY_HEIGHT
    if banded:
        free, borne = bands_of(place, wall_height, seen, situation_of(fitting, book), book)
    position = values.get(("position", place))
    return SideNail(
        place=place,
        hole=nail.hole,
        foot=length * (_FIRST + _STEP * (nail.hole - 1) if position is None else position),
        foot_known=position is not None,
        exit=values.get(("exit_height", place)),
        wall_height=wall_height,
        clinch=nail.clinch,
        free=free,
        borne=borne,
    )
