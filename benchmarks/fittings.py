"""The fittings that the benchmarks assess: a day book of the invented yard Low Meadow, the same for the same seed.

Each is complete for its stage.  About six in ten are good; the others have one to three faults that a farrier would
meet.  Sizes follow the demo fitting of a good draught fore foot.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from benchmarks.faults import FAULTS, Table

__all__ = ["COUNT", "SEED", "fittings"]

COUNT: Final = 2000
SEED: Final = 1897
_GOOD: Final = 0.6
_FITTED: Final = date(2026, 3, 4)
_SIDES: Final = ("medial", "lateral")
_GAPS: Final = ("toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel")


def fittings(count: int = COUNT, seed: int = SEED) -> Iterator[Table]:
    """``count`` fittings as JSON documents."""
    rng = random.Random(seed)  # noqa: S311  (a seeded choice, nothing secret)
    for number in range(count):
        fitting = _good(rng, number)
        if rng.random() >= _GOOD:
            possible = [spoil for needs, spoil in FAULTS if needs in fitting or needs in fitting["observations"]]
            for spoil in rng.sample(possible, rng.choice((1, 1, 2, 3))):
                spoil(rng, fitting)
        yield fitting


def _good(rng: random.Random, number: int) -> Table:
    stage = rng.choices(("dressed", "hot_fit", "nailed", "finished"), (1, 2, 3, 5))[0]
    work = rng.choices(("draught", "harness", "riding"), (5, 3, 2))[0]
    form = rng.choices(("regular", "acute", "upright", "wide", "narrow", "bear"), (12, 3, 3, 1, 1, 1))[0]
    stance = rng.choices(("regular", "base_wide", "base_narrow"), (6, 1, 1))[0]
    horse = f"H-{101 + number % 40}"
    foot = rng.choice(("left_fore", "right_fore", "left_hind", "right_hind"))
    fitting: Table = {
        "foot": foot,
        "stage": stage,
        "work": work,
        "hoof_form": form,
        "stance": stance,
        "horse": {"id": horse},
        "person": {"id": f"A-{1 + number % 3}", "role": "apprentice"},
        "assessor": {"id": "S-1"},
        "visit": f"{_FITTED.isoformat()}-{horse}",
        "hoof": {
            "wall_thickness": _around(rng, 12, 0.5),
            "sole_thickness": _around(rng, 12.5, 0.5),
            "wall_height": _around(rng, 98, 3),
        },
        "observations": {"history": _history(rng)},
        "notes": "Low Meadow, dry ground.",
    }
    if stage == "dressed" or rng.random() < _SHARE_WITH_DRESSING:
        fitting["observations"] |= {"dressing": dict(_DRESSED), "going": {"before": "sound"}}
        fitting["observations"]["old_shoe"] = {"wear": "even", "on_sole": False}
    if stage != "dressed":
        _shod(rng, fitting)
    return fitting


_SHARE_WITH_DRESSING: Final = 0.2
_SHARE_HOT: Final = 0.7
_DRESSED: Final = {
    "axis": "straight",
    "axis_front": "middle",
    "across": "level",
    "surface": "level",
    "sole": "whole",
    "frog": "trimmed",
    "bars": "whole",
    "seat_of_corn": "free",
    "horn": "sound",
    "edge": "rounded",
    "flare": "none",
    "toe_shortened": False,
    "old_stubs": False,
}


def _shod(rng: random.Random, fitting: Table) -> None:
    """The shoe, and all that is observed of it at the stage."""
    stage, thickness = fitting["stage"], rng.choice((10, 11, 12, 13))
    hot = stage == "hot_fit" or rng.random() < _SHARE_HOT
    observations = fitting["observations"]
    fitting |= {"hot_fitted": hot, "shoe": {"thickness": thickness, "length": _around(rng, 172, 4)}}
    observations |= {
        "heel_fit": _heel_fit(rng, fitting, thickness),
        "toe_fit": _toe_fit(rng, thickness),
        "levelness": _levelness(rng),
    }
    if hot:
        observations["scorch"] = _scorch(rng)
    else:
        observations["levelness"]["sole_pressure"] = False
    if stage == "hot_fit":
        fitting["shoe"]["holes"] = [
            {"branch": side, "hole": hole, "to_white_line": "on_line"} for side in _SIDES for hole in (1, 2, 3)
        ]
    else:
        observations["nails"] = _nails(rng, fitting["work"], finished=stage == "finished")
    if stage == "finished":
        observations["finish"] = {"hand": "smooth", "rasped_above_clinches": False}
        observations.setdefault("going", {}).update(walk="free", trot_up="sound")


def _around(rng: random.Random, middle: float, spread: float) -> float:
    """A reading to a tenth, at most ``spread`` off the middle."""
    return round(rng.uniform(middle - spread, middle + spread), 1)


def _heel_fit(rng: random.Random, fitting: Table, thickness: float) -> Table:
    hind, form, stance = fitting["foot"].endswith("hind"), fitting["hoof_form"], fitting["stance"]
    length = thickness + (2.0 if form in ("acute", "bear") else 0.0)
    if form == "upright":
        length = 2.0
    elif fitting["work"] == "riding":
        length = 7.9 if hind else 2.0
    # The lateral side of a base-wide foot is close, and behind the medial branch follows the wall.
    close = {"base_wide": "lateral", "base_narrow": "medial"}.get(stance, "medial" if hind else None)
    branches: Table = {}
    for side in _SIDES:
        full = stance != "regular" and side != close
        branches[side] = {
            "length": _around(rng, length + (6.3 if full else 0.0), 0.9),
            "width": _around(rng, 0.9, 0.6)
            if side == close
            else rng.choice((_around(rng, 2.4, 0.6), _around(rng, 2.4, 0.6), "full")),
            "frog_gap": _around(rng, 8, 2),
        }
    if close != "medial" and rng.random() < 0.1:  # noqa: PLR2004  (shares of the mix)
        branches["medial"]["width"] = {"value": "3/32", "unit": "in", "method": "calliper"}
    return branches


def _toe_fit(rng: random.Random, thickness: float) -> Table:
    return {
        "overhang": _around(rng, 0.8, 0.6),
        "medial_overhang": _around(rng, 0.8, 0.6),
        "lateral_overhang": _around(rng, 0.8, 0.6),
        "wall_rasped_back": False,
        "clip": "seated",
        "clip_height": _around(rng, thickness + 2, 1),
    }


def _levelness(rng: random.Random) -> Table:
    return {
        "rocks": False,
        "gaps": {place: {"value": _around(rng, 0.1, 0.1), "method": "feeler"} for place in _GAPS},
        "medial_height": _around(rng, 62, 1),
        "lateral_height": _around(rng, 62, 1),
    }


def _history(rng: random.Random) -> Table:
    days = rng.randint(28, 41)
    shod = _FITTED - timedelta(days=days)
    return {
        "last_shod": shod.isoformat(),
        "fitted": _FITTED.isoformat(),
        "old_hole_drop": _around(rng, days * 0.25, 0.5),
    }


def _scorch(rng: random.Random) -> Table:
    return {
        "coverage": round(rng.uniform(0.96, 1.0), 2),
        "sole_scorch": _around(rng, 1.2, 1.2),
        "sole_pressure": False,
        "shoe_heat": rng.choice(("dull_red", "cherry")),
        "contact_time": rng.randint(4, 8),
    }


_INSETS: Final = (9.0, 9.0, 8.5, 7.5)
"""How far in each hole stands: the wall grows thinner towards the heels."""


def _nails(rng: random.Random, work: str, *, finished: bool) -> list[Table]:
    count = 3 if work == "riding" else rng.choice((3, 3, 4))
    first = _around(rng, 26.5, 0.8)
    return [
        {
            "branch": side,
            "hole": hole,
            "exit_height": round(first - 1.5 * (hole - 1) + rng.uniform(-0.4, 0.4), 1),
            "wall_height": _around(rng, 94 - 6 * hole, 1),
            "position": round(0.12 * hole, 2),
            "hole_inset": _around(rng, _INSETS[hole - 1], 0.3),
            "sound": "firm",
            "reaction": "none",
            "blood": False,
            **({"clinch": "flush", "head": "seated"} if finished else {}),
        }
        for side in _SIDES
        for hole in range(1, count + 1)
    ]
