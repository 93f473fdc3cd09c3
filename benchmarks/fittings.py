"""The fittings that the benchmarks assess: a day book of the invented yard Low Meadow, the same for the same seed.

Each is complete for its stage.  About six in ten are good; the others have one to three faults that a farrier would
meet.  Sizes follow the demo fitting of a good draught fore foot.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any, Final

__all__ = ["COUNT", "SEED", "fittings"]

COUNT: Final = 2000
SEED: Final = 1897
_GOOD: Final = 0.6
_FITTED: Final = date(2026, 3, 4)
_SIDES: Final = ("medial", "lateral")
_GAPS: Final = ("toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel")

Table = dict[str, Any]


def fittings(count: int = COUNT, seed: int = SEED) -> Iterator[Table]:
    """``count`` fittings as JSON documents."""
    rng = random.Random(seed)  # noqa: S311  (a seeded choice, nothing secret)
    for number in range(count):
        fitting = _good(rng, number)
        if rng.random() >= _GOOD:
            possible = [spoil for needs, spoil in _FAULTS if needs in fitting["observations"]]
            for spoil in rng.sample(possible, rng.choice((1, 1, 2, 3))):
                spoil(rng, fitting)
        yield fitting


def _good(rng: random.Random, number: int) -> Table:
    stage = rng.choices(("hot_fit", "nailed", "finished"), (2, 3, 5))[0]
    work = rng.choices(("draught", "harness", "riding"), (5, 3, 2))[0]
    form = rng.choices(("regular", "acute", "upright", "base_wide"), (6, 2, 1, 1))[0]
    hot = stage == "hot_fit" or rng.random() < 0.7  # noqa: PLR2004  (shares of the mix)
    horse = f"H-{101 + number % 40}"
    thickness = rng.choice((10, 11, 12, 13))
    foot = rng.choice(("left_fore", "right_fore", "left_hind", "right_hind"))
    observations: Table = {
        "heel_fit": _heel_fit(rng, foot, work, form, thickness),
        "toe_fit": _toe_fit(rng, thickness),
        "levelness": _levelness(rng),
        "history": _history(rng),
    }
    if hot:
        observations["scorch"] = _scorch(rng)
    else:
        observations["levelness"]["sole_pressure"] = False
    if stage != "hot_fit":
        observations["nails"] = _nails(rng, work, finished=stage == "finished")
    if stage == "finished":
        observations["finish"] = {"hand": "smooth", "rasped_above_clinches": False}
        observations["going"] = {"walk": "free"}
        observations["soundness"] = {"trot_up": "sound"}
    return {
        "foot": foot,
        "stage": stage,
        "work": work,
        "hoof_form": form,
        "hot_fitted": hot,
        "horse": {"id": horse},
        "person": {"id": f"A-{1 + number % 3}", "role": "apprentice"},
        "assessor": {"id": "S-1"},
        "visit": f"{_FITTED.isoformat()}-{horse}",
        "hoof": {
            "wall_thickness": _around(rng, 12, 0.5),
            "sole_thickness": _around(rng, 11, 0.5),
            "wall_height": _around(rng, 98, 3),
        },
        "shoe": {"thickness": thickness, "length": _around(rng, 172, 4)},
        "observations": observations,
        "notes": "Low Meadow, dry ground.",
    }


def _around(rng: random.Random, middle: float, spread: float) -> float:
    """A reading to a tenth, at most ``spread`` off the middle."""
    return round(rng.uniform(middle - spread, middle + spread), 1)


def _heel_fit(rng: random.Random, foot: str, work: str, form: str, thickness: float) -> Table:
    hind = foot.endswith("hind")
    length = thickness + (2.0 if form == "acute" else 0.0)
    if form == "upright":
        length = 2.0
    elif work == "riding":
        length = 7.9 if hind else 2.0
    # The close side of a base-wide foot is the lateral one; behind, the medial branch follows the wall.
    close = "lateral" if form == "base_wide" else "medial" if hind else None
    branches: Table = {
        side: {
            "length": _around(rng, length, 0.9),
            "width": _around(rng, 0.9, 0.6)
            if side == close
            else rng.choice((_around(rng, 2.4, 0.6), _around(rng, 2.4, 0.6), "full")),
            "frog_gap": _around(rng, 8, 2),
        }
        for side in _SIDES
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


Spoil = Callable[[random.Random, Table], None]


def _put(part: str, **values: tuple[Any, ...]) -> tuple[str, Spoil]:
    """A fault of one part of the observations: each field becomes one of its values."""

    def spoil(rng: random.Random, fitting: Table) -> None:
        for field, choices in values.items():
            fitting["observations"][part][field] = rng.choice(choices)

    return part, spoil


def _branch(*sides: str, **values: tuple[Any, ...]) -> tuple[str, Spoil]:
    def spoil(rng: random.Random, fitting: Table) -> None:
        for side in sides or (rng.choice(_SIDES),):
            for field, choices in values.items():
                fitting["observations"]["heel_fit"][side][field] = rng.choice(choices)

    return "heel_fit", spoil


def _nail(**values: tuple[Any, ...]) -> tuple[str, Spoil]:
    def spoil(rng: random.Random, fitting: Table) -> None:
        nail = rng.choice(fitting["observations"]["nails"])
        for field, choices in values.items():
            nail[field] = rng.choice(choices)

    return "nails", spoil


def _gap(rng: random.Random, fitting: Table) -> None:
    fitting["observations"]["levelness"]["gaps"][rng.choice(_GAPS)] = rng.choice((0.4, 0.6, 1.2))


def _thin_wall(rng: random.Random, fitting: Table) -> None:
    fitting["hoof"]["wall_thickness"] = rng.choice((8.0, 9.0, 9.4))


def _overdue(rng: random.Random, fitting: Table) -> None:
    days = rng.choice((44, 50, 58, 70))
    shod = _FITTED - timedelta(days=days)
    fitting["observations"]["history"] |= {"last_shod": shod.isoformat(), "old_hole_drop": round(days * 0.25, 1)}


def _pulled_nail(rng: random.Random, fitting: Table) -> None:
    nails = fitting["observations"]["nails"]
    nails.remove(rng.choice(nails))
    nails.remove(rng.choice(nails))


def _no_clinch_yet(rng: random.Random, fitting: Table) -> None:
    """A clinch that will not hold, where there are clinches."""
    nail = rng.choice(fitting["observations"]["nails"])
    if "clinch" in nail:
        nail["clinch"] = rng.choice(("proud", "cracked", "pulled", "missing", "sharp", "thin"))


_FAULTS: Final[tuple[tuple[str, Spoil], ...]] = (
    _branch(width=(-1.5, -0.5, 0.5, 1.2, "tight", "close")),
    _branch("medial", "lateral", width=(-1.0, -0.6, "tight")),
    _branch(width=(3.8, 5.5, 7.0, "wide")),
    _branch(length=(-2, -1, 26, 30)),
    _branch("medial", "lateral", length=(-3, -2, -1)),
    _branch(frog_gap=(-1, 0, 2, 4)),
    _put("toe_fit", overhang=(-4, -1, 2.4, 4)),
    _put("toe_fit", medial_overhang=(-1, 2.2)),
    _put("toe_fit", clip=("proud", "too_deep")),
    _put("toe_fit", clip_height=(6, 8)),
    _put("toe_fit", wall_rasped_back=(True,)),
    _put("levelness", rocks=(True,)),
    ("levelness", _gap),
    _put("levelness", lateral_height=(66, 70)),
    _put("scorch", coverage=(0.7, 0.85, 0.92)),
    _put("scorch", sole_scorch=(4, 6), sole_pressure=(True, False)),
    _put("scorch", contact_time=(20, 50, 90)),
    _put("scorch", shoe_heat=("black", "dull_red"), contact_time=(12, 14)),
    _nail(exit_height=(12, 14, 15)),
    _nail(exit_height=(38, 43, 46)),
    _nail(reaction=("flinch",), blood=(True, False, False)),
    _nail(sound=("soft",)),
    _nail(hole_inset=(3, 12.5)),
    _nail(position=(0.55, 0.7)),
    ("nails", _no_clinch_yet),
    ("nails", _no_clinch_yet),
    ("nails", _pulled_nail),
    ("nails", _thin_wall),
    ("history", _overdue),
    _put("finish", hand=("rough", "sharp"), rasped_above_clinches=(True, False)),
    _put("soundness", trot_up=("uneven", "lame")),
)
