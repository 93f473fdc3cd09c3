"""Limits on the number line: what is tried meets every order in which limits and readings can lie."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.number_line import Line, Sizes, Zone, between, sizes_to_try, values_to_try

RANGES = {name: (Fraction(2), Fraction(20)) for name in ("shoe", "wall", "sole")}
HEIGHTS = st.integers(-80, 80).map(lambda number: Fraction(number, 4))
SLOPES = st.sampled_from([Fraction(1, 2), Fraction(1), Fraction(3, 2), Fraction(2)])
PLAIN = HEIGHTS.map(lambda height: Line(Fraction(0), None, height))


def scaled(*names: str) -> st.SearchStrategy[Line]:
    return st.builds(Line, SLOPES, st.sampled_from(names), HEIGHTS)


def some(*names: str) -> st.SearchStrategy[list[Line]]:
    return st.lists(PLAIN | scaled(*names), min_size=1, max_size=4, unique=True)


SIZE = st.integers(200, 2000).map(lambda number: Fraction(number, 100))


def order(lines: Iterable[Line], sizes: Sizes) -> tuple[tuple[int, ...], ...]:
    """Which of each two lines lies higher."""
    at = [line.at(sizes) for line in lines]
    return tuple(tuple((one > other) - (one < other) for other in at) for one in at)


def meets_every_order(lines: list[Line], here: Sizes) -> bool:
    tried = list(sizes_to_try([lines], RANGES))
    assert all(low <= size <= high for sizes in tried for name, size in sizes.items() for low, high in [RANGES[name]])
    followed = {line.of for line in lines if line.of is not None}
    # With fewer than two lines nothing can cross, and any size will do.
    return order(lines, here) in {order(lines, {**here, **sizes}) for sizes in tried} or len(lines) < 2 or not followed


@given(some("shoe"), SIZE)
def test_with_one_dimension_every_order_of_the_limits_is_tried(lines: list[Line], shoe: Fraction) -> None:
    assert meets_every_order(lines, {"shoe": shoe})


@settings(max_examples=60, deadline=None)
@given(some("shoe", "wall"), SIZE, SIZE)
def test_with_two_dimensions_every_order_of_the_limits_is_tried(
    lines: list[Line], shoe: Fraction, wall: Fraction
) -> None:
    assert meets_every_order(lines, {"shoe": shoe, "wall": wall})


@settings(max_examples=40, deadline=None)
@given(some("shoe", "wall", "sole"))
def test_with_more_dimensions_the_ends_and_the_middle_of_the_others_are_tried(lines: list[Line]) -> None:
    tried = list(sizes_to_try([lines], RANGES))
    followed = {line.of for line in lines if line.of is not None} if len(lines) > 1 else set()
    assert tried
    if len(followed) == 3:
        assert {sizes["wall"] for sizes in tried} == {Fraction(2), Fraction(11), Fraction(20)}


@given(st.lists(PLAIN, max_size=4), st.integers(-4000, 4000).map(lambda number: Fraction(number, 100)))
def test_every_reading_lies_to_the_limits_as_one_that_is_tried_does(lines: list[Line], value: Fraction) -> None:
    least, most = Fraction(-40), Fraction(40)
    tried = values_to_try(lines, {}, least, most)
    assert all(least <= each <= most for each in tried)

    def stands(reading: Fraction) -> tuple[int, ...]:
        return tuple((reading > line.height) - (reading < line.height) for line in lines)

    assert stands(value) in set(map(stands, tried))


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [("0", "10", "5"), ("1.6", "3.2", "2"), ("0.8", "0.95", "0.9"), ("0", "0.000002", "0.000001")],
)
def test_a_reading_between_two_limits_has_few_decimals(low: str, high: str, expected: str) -> None:
    assert between(Fraction(low), Fraction(high)) == Fraction(expected)


def test_between_limits_closer_than_the_engine_compares_there_is_no_reading() -> None:
    assert between(Fraction(0), Fraction(1, 1_000_000)) is None


@pytest.mark.parametrize(
    ("value", "edge", "expected"),
    [(-1, False, "low"), (0, False, None), (0, True, "low"), (2, False, None), (4, True, "high"), (5, False, "high")],
)
def test_a_zone_says_which_limit_is_passed(value: int, edge: bool, expected: str | None) -> None:  # noqa: FBT001
    line: Callable[[int], Line] = lambda height: Line(Fraction(0), None, Fraction(height))  # noqa: E731
    assert Zone(line(0), line(4), edge).end(Fraction(value), {}) == expected
