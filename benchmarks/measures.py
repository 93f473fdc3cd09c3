"""What tracing costs: a full assessment with 200-point outlines against one without."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import Any, Final

from benchmarks.harness import ROOT, Result, by_turns, middle
from cases_demo import traced_feet
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting

__all__ = ["QUICK", "Sizes", "run"]

_POINTS: Final = 200
_HOW: Final = (
    "Validation and assessment of the demo fitting good-draught-fore as it is, and with outlines of {points} points, "
    "heights and imprint arcs besides; by turns, {rounds} rounds; medians."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many rounds."""

    rounds: int = 60


QUICK: Final = Sizes(rounds=15)


def read_by_hand() -> dict[str, Any]:
    """A whole fitting with readings only."""
    fitting: dict[str, Any] = json.loads((ROOT / "cases_demo" / "good-draught-fore.json").read_text(encoding="utf-8"))
    return fitting


def read_and_traced() -> dict[str, Any]:
    """The same fitting with outlines, heights and imprint arcs besides."""
    fitting = read_by_hand()
    foot = traced_feet.fitting(replace(traced_feet.FEET["traced-good-fore"], points=_POINTS))["observations"]
    fitting["observations"]["outline"] = foot["outline"]
    fitting["observations"]["levelness"]["heights"] = foot["levelness"]["heights"]
    fitting["observations"]["scorch"]["arcs"] = foot["scorch"]["arcs"]
    return fitting


def run(sizes: Sizes) -> Result:
    """Measure both by turns."""
    plain, whole = read_by_hand(), read_and_traced()
    works = {
        "without": lambda: assess(Fitting.model_validate(plain)),
        "with": lambda: assess(Fitting.model_validate(whole)),
    }
    by_turns(works, 1)  # numpy, scipy and shapely are imported by the first
    ms = {name: 1e3 * middle(each) for name, each in by_turns(works, sizes.rounds).items()}
    return Result(
        "measures",
        "Tracing",
        _HOW.format(points=_POINTS, rounds=sizes.rounds),
        (
            ("without outlines", f"{ms['without']:.2f} ms"),
            (f"with {_POINTS}-point outlines", f"{ms['with']:.2f} ms"),
            ("ratio", f"{ms['with'] / ms['without']:.2f}"),
        ),
        (),
        ("numpy", "scipy", "shapely"),
    )
