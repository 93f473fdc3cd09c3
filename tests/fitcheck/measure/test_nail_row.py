"""What the nails of a shoe show together."""

from __future__ import annotations

from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting

SEEN = (("medial", 1), ("medial", 2), ("medial", 3), ("lateral", 1), ("lateral", 2), ("lateral", 3))


def share_low(*exits: Any) -> float | None:
    """The share of low nails of a shoe whose nails come out so (mm, or by eye); None: not looked at."""
    nails = [
        {"branch": branch, "hole": hole} | ({} if height is None else {"exit_height": height})
        for (branch, hole), height in zip(SEEN, exits, strict=False)
    ]
    fitting = {"foot": "left_fore", "stage": "nailed", "work": "draught", "observations": {"nails": nails}}
    shares = [
        each.value for each in assess(Fitting.model_validate(fitting)).measurements if each.quantity == "share_low"
    ]
    return shares[0] if shares else None


@pytest.mark.parametrize(
    ("exits", "share"),
    [
        ((14, 14, 14, 20, 20, 20), 0.5),
        (("low", "low", "low", "right", "right", "right"), 0.5),
        ((14, None, None, None, None, None), 1 / 6),  # those not looked at may be right
        ((14, 20), None),  # of one or two nails no share is told
        ((14, 20, 20), 1 / 3),
        ((None, None, None, None), None),
    ],
)
def test_the_share_of_low_nails_is_the_least_that_it_can_be(exits: tuple[Any, ...], share: float | None) -> None:
    """5/8 in: LA 131; that one or two nails tell no share: common practice, no source."""
    assert share_low(*exits) == pytest.approx(share, abs=1e-4)
