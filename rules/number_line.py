"""Limits on the number line, exactly: where each lies for given sizes, and which sizes and readings are worth trying.

A limit is a straight line over the dimension that it follows.  Which limits a reading passes can change only where
two such lines cross: to try the crossings and the points between them is exact.  All numbers are fractions.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations, pairwise, product
from typing import Final, Literal, NamedTuple

from rules.model.records import Clause, Limit, Quantity, Rule, Scaled

__all__ = [
    "End",
    "Line",
    "Sizes",
    "Zone",
    "between",
    "exact",
    "line_of",
    "middle_of",
    "range_of",
    "sizes_to_try",
    "values_to_try",
    "zone_of",
]

End = Literal["low", "high"]
Sizes = Mapping[str, Fraction]
"""A value for each dimension that limits follow."""

_Plane = tuple[tuple[Fraction, ...], Fraction]
"""Where a linear function of the sizes is zero: its factors, one a dimension, and its constant."""

_FINEST: Final = 6  # decimals that the engine compares
_WIDE: Final = 4
_MOST_CROSSED: Final = 2


class Line(NamedTuple):
    """``slope`` x the dimension ``of`` + ``height``; a plain number has no ``of``."""

    slope: Fraction
    of: str | None
    height: Fraction

    def at(self, sizes: Sizes) -> Fraction:
        """The limit for these sizes."""
        return self.height if self.of is None else self.slope * sizes[self.of] + self.height


class Zone(NamedTuple):
    """What lies past ``low`` or ``high``, the edge itself too where ``edge``; readings have no uncertainty here."""

    low: Line | None
    high: Line | None
    edge: bool

    @property
    def lines(self) -> tuple[Line, ...]:
        """The one or two limits."""
        return tuple(line for line in (self.low, self.high) if line is not None)

    def end(self, value: Fraction, sizes: Sizes) -> End | None:
        """Which limit ``value`` lies past, None for neither."""
        if self.low is not None:
            low = self.low.at(sizes)
            if value < low or (self.edge and value == low):
                return "low"
        if self.high is not None:
            high = self.high.at(sizes)
            if value > high or (self.edge and value == high):
                return "high"
        return None


def zone_of(limited: Rule | Clause) -> Zone:
    """The zone of a rule or clause with ``low`` or ``high``."""
    return Zone(line_of(limited.low), line_of(limited.high), isinstance(limited, Rule) and limited.edge is not None)


def line_of(limit: Limit | None) -> Line | None:
    """``limit`` as a line, None where there is none."""
    if limit is None:
        return None
    if isinstance(limit, Scaled):
        return Line(exact(limit.times), limit.of, exact(limit.plus))
    return Line(Fraction(0), None, exact(limit))


def exact(number: float) -> Fraction:
    """``number`` as it is written in decimals.

    >>> exact(1.6) == Fraction(8, 5)
    True
    """
    return Fraction(repr(number))


def between(low: Fraction, high: Fraction) -> Fraction | None:
    """The number of fewest decimals near the middle between ``low`` and ``high``; None where six do not suffice.

    >>> between(Fraction("1.6"), Fraction("3.2")), between(Fraction(0), Fraction("0.0000005"))
    (Fraction(2, 1), None)
    """
    middle = (low + high) / 2
    for decimals in range(_FINEST + 1):
        number = Fraction(round(middle * 10**decimals), 10**decimals)
        if low < number < high:
            return number
    return None


def range_of(quantity: Quantity) -> tuple[Fraction, Fraction]:
    """The least and the most that a number can be."""
    least, most = quantity.range or (0.0, 0.0)
    return exact(least), exact(most)


def middle_of(quantity: Quantity) -> Fraction:
    """The middle of what a number can be."""
    least, most = range_of(quantity)
    return (least + most) / 2


def values_to_try(lines: Iterable[Line], sizes: Sizes, least: Fraction, most: Fraction) -> list[Fraction]:
    """Readings from ``least`` to ``most`` that pass these limits in every way there is: between them, then on them."""
    edges = {edge for line in lines if least <= (edge := line.at(sizes)) <= most}
    ordered = sorted({*edges, least, most})
    inside = []
    for low, high in pairwise(ordered):
        near_low, near_high = low, high
        # Beyond the outermost limit a reading close to it is more like one that is met with.
        if high - low > _WIDE and high == most and low in edges:
            near_high = low + 2
        elif high - low > _WIDE and low == least and high in edges:
            near_low = high - 2
        number = between(near_low, near_high)
        if number is not None:
            inside.append(number)
    return inside + ordered


def sizes_to_try(
    groups: Iterable[Iterable[Line]], ranges: Mapping[str, tuple[Fraction, Fraction]]
) -> Iterator[dict[str, Fraction]]:
    """Sizes, within their ``ranges``, for which the lines of each group lie in every order there is.

    Exact for up to two dimensions at once; of further ones only the ends and the middle are tried.
    """
    pairs = [pair for group in groups for pair in combinations(dict.fromkeys(group), 2)]
    followed = sorted({line.of for pair in pairs for line in pair if line.of is not None})
    crossed, others = followed[:_MOST_CROSSED], followed[_MOST_CROSSED:]
    ends = [(low, high, (low + high) / 2) for low, high in (ranges[name] for name in others)]
    for chosen in product(*ends):
        fixed = dict(zip(others, chosen, strict=True))
        planes = list(dict.fromkeys(_crossing(one, other, crossed, fixed) for one, other in pairs))
        for point in _points(planes, [ranges[name] for name in crossed]):
            yield fixed | dict(zip(crossed, point, strict=True))


def _crossing(one: Line, other: Line, crossed: Sequence[str], fixed: Sizes) -> _Plane:
    """Where two lines cross, over the dimensions ``crossed``."""
    factors = {name: Fraction(0) for name in crossed}
    constant = one.height - other.height
    for line, sign in ((one, 1), (other, -1)):
        if line.of in factors:
            factors[line.of] += sign * line.slope
        elif line.of is not None:
            constant += sign * line.slope * fixed[line.of]
    return tuple(factors.values()), constant


def _points(planes: Sequence[_Plane], box: Sequence[tuple[Fraction, Fraction]]) -> Iterator[tuple[Fraction, ...]]:
    """One point, or more, in every cell that the planes cut the box into, the cells' walls included."""
    if not box:
        yield ()
        return
    if len(box) == 1:
        yield from ((size,) for size in _along(planes, box[0]))
        return
    for before in _points(_shadows([*planes, *_walls(box)]), box[:-1]):
        here = [_seen_from(before, plane) for plane in planes]
        yield from ((*before, size) for size in _along(here, box[-1]))


def _along(planes: Iterable[_Plane], ends: tuple[Fraction, Fraction]) -> list[Fraction]:
    crossings = {-constant / factors[0] for factors, constant in planes if factors[0]}
    ordered = sorted({*ends, *(at for at in crossings if ends[0] < at < ends[1])})
    inside = [number for low, high in pairwise(ordered) if (number := between(low, high)) is not None]
    return inside + ordered


def _walls(box: Sequence[tuple[Fraction, Fraction]]) -> Iterator[_Plane]:
    """The two walls of the box across its last dimension."""
    for end in box[-1]:
        yield (*(Fraction(0) for _ in box[:-1]), Fraction(1)), -end


def _shadows(planes: Sequence[_Plane]) -> list[_Plane]:
    """Where planes meet one another or stand upright, without the last dimension."""
    shadows = [(factors[:-1], constant) for factors, constant in planes if not factors[-1]]
    slanting = [plane for plane in planes if plane[0][-1]]
    for (one, here), (other, there) in combinations(slanting, 2):
        factors = tuple(a * other[-1] - b * one[-1] for a, b in zip(one[:-1], other[:-1], strict=True))
        shadows.append((factors, here * other[-1] - there * one[-1]))
    return list(dict.fromkeys(shadows))


def _seen_from(before: tuple[Fraction, ...], plane: _Plane) -> _Plane:
    """The plane with all sizes but the last put in."""
    factors, constant = plane
    return (factors[-1],), constant + sum(
        (factor * size for factor, size in zip(factors[:-1], before, strict=True)), Fraction(0)
    )
