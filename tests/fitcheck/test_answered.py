"""Numbers are answered as round() has them, to the sign of a nought."""

from __future__ import annotations

import math

from hypothesis import example, given
from hypothesis import strategies as st

from fitcheck.vocabulary import answered


@given(st.one_of(st.floats(allow_nan=False), st.floats(-400, 400), st.integers(-(10**7), 10**7).map(lambda n: n / 2e4)))
@example(-0.0)
@example(-0.00001)
@example(1.00005)
@example(2.0**53 / 1e4)
@example(math.inf)
def test_a_number_is_answered_as_it_is_rounded(value: float) -> None:
    assert repr(answered(value)) == repr(round(value, 4))


def test_a_whole_number_stays_one() -> None:
    assert repr(answered(3)) == "3"
