"""What a farrier may find wrong on one of the benchmarks' fittings: each fault spoils a good document a little."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any, Final

__all__ = ["FAULTS", "Spoil", "Table"]

Table = dict[str, Any]
Spoil = Callable[[random.Random, Table], None]
"""Puts one fault into a fitting."""

_SIDES: Final = ("medial", "lateral")
_GAPS: Final = ("toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel")


def _put(part: str, needs: str = "", **values: tuple[Any, ...]) -> tuple[str, Spoil]:
    """A fault of one part of the observations: each field becomes one of its values.

    It is looked for where there is that part, or else the part ``needs``.
    """

    def spoil(rng: random.Random, fitting: Table) -> None:
        for field, choices in values.items():
            fitting["observations"][part][field] = rng.choice(choices)

    return needs or part, spoil


def _size(of: str, **values: tuple[Any, ...]) -> tuple[str, Spoil]:
    """A fault of the hoof or the shoe; it is looked for wherever that is given."""

    def spoil(rng: random.Random, fitting: Table) -> None:
        for field, choices in values.items():
            fitting[of][field] = rng.choice(choices)

    return of, spoil


def _branch(*sides: str, **values: tuple[Any, ...]) -> tuple[str, Spoil]:
    def spoil(rng: random.Random, fitting: Table) -> None:
        for side in sides or (rng.choice(_SIDES),):
            for field, choices in values.items():
                fitting["observations"]["heel_fit"][side][field] = rng.choice(choices)

    return "heel_fit", spoil


def _longer(*by: float) -> tuple[str, Spoil]:
    """Both branches longer, or shorter, by so many millimetres."""

    def spoil(rng: random.Random, fitting: Table) -> None:
        more = rng.choice(by)
        for branch in fitting["observations"]["heel_fit"].values():
            if not isinstance(branch["length"], str):
                branch["length"] = round(branch["length"] + more, 1)

    return "heel_fit", spoil


def _nail(**values: tuple[Any, ...]) -> tuple[str, Spoil]:
    def spoil(rng: random.Random, fitting: Table) -> None:
        nail = rng.choice(fitting["observations"]["nails"])
        for field, choices in values.items():
            nail[field] = rng.choice(choices)

    return "nails", spoil


def _seen(rng: random.Random, fitting: Table) -> None:
    what = rng.choice(("crack", "bruise", "smell", "heat", "discharge", "blood"))
    place = rng.choice(("toe", "medial_heel", "sole"))
    fitting["observations"]["seen"] = [{"what": what, "place": place, "deep": rng.random() < _HALF}]


def _gap(rng: random.Random, fitting: Table) -> None:
    gap = rng.choice((0.4, 0.6, 1.2, "daylight", "open"))
    fitting["observations"]["levelness"]["gaps"][rng.choice(_GAPS)] = gap


def _thin_wall(rng: random.Random, fitting: Table) -> None:
    fitting["hoof"]["wall_thickness"] = rng.choice((8.0, 9.0, 9.4))


def _overdue(rng: random.Random, fitting: Table) -> None:
    days = rng.choice((44, 50, 58, 70))
    history = fitting["observations"]["history"]
    shod = date.fromisoformat(history["fitted"]) - timedelta(days=days)
    history |= {"last_shod": shod.isoformat(), "old_hole_drop": round(days * 0.25, 1)}


def _pulled_nails(rng: random.Random, fitting: Table) -> None:
    nails = fitting["observations"]["nails"]
    for _ in range(rng.choice((1, 2, 3))):
        nails.remove(rng.choice(nails))


def _one_sided(rng: random.Random, fitting: Table) -> None:
    side = rng.choice(_SIDES)
    nails = fitting["observations"]["nails"]
    fitting["observations"]["nails"] = [each for each in nails if each["branch"] != side or each["hole"] == 1]


def _low_row(rng: random.Random, fitting: Table) -> None:
    for nail in fitting["observations"]["nails"]:
        if not isinstance(nail["exit_height"], str):
            nail["exit_height"] = round(nail["exit_height"] - rng.uniform(9.5, 11), 1)


def _clinch(rng: random.Random, fitting: Table) -> None:
    """A clinch that will not hold, where there are clinches."""
    nail = rng.choice(fitting["observations"]["nails"])
    if "clinch" in nail:
        nail["clinch"] = rng.choice(("proud", "cracked", "pulled", "missing", "sharp", "thin"))


def _head(rng: random.Random, fitting: Table) -> None:
    nail = rng.choice(fitting["observations"]["nails"])
    if "head" in nail:
        nail["head"] = rng.choice(("proud", "loose"))


def _clips(rng: random.Random, fitting: Table) -> None:
    """One clip that is wrong in its state or height, in place of the good one; or none at all."""
    toe_fit = fitting["observations"]["toe_fit"]
    toe_fit.pop("clip", None)
    toe_fit.pop("clip_height", None)
    state, height = rng.choice((("proud", 13), ("too_deep", 13), ("seated", 6), ("seated", 30), ("none", 0)))
    if state == "none":
        toe_fit |= {"clip": "none"}
    else:
        at = rng.choice(("toe", "toe", "medial_toe", "lateral_quarter"))
        toe_fit["clips"] = [{"at": at, "state": state, "height": height}]


def _dark(rng: random.Random, fitting: Table) -> None:
    fitting["observations"]["scorch"]["dark"] = [rng.choice(_GAPS)]


def _bare(rng: random.Random, fitting: Table) -> None:
    scorch = fitting["observations"]["scorch"]
    del scorch["coverage"]
    scorch["arcs"] = [[-150, 0], [rng.choice((25, 60)), 150]]


def _tipping(rng: random.Random, fitting: Table) -> None:
    """Heights of the bearing surface on which a flat shoe tips."""
    high = rng.choice((0.6, 1.5))
    points = ((0, 70), (-55, 20), (55, 20), (-45, -50), (45, -50), (-50, -15), (50, -15))
    fitting["observations"]["levelness"]["heights"] = [
        [x, y, high if (x < 0) == (y < 0) and x else 0.0] for x, y in points
    ]


def _together(*faults: tuple[str, Spoil]) -> tuple[str, Spoil]:
    """Faults that a farrier meets together; they need what the first one needs."""

    def spoil(rng: random.Random, fitting: Table) -> None:
        for _, each in faults:
            each(rng, fitting)

    return faults[0][0], spoil


_HALF: Final = 0.5

FAULTS: Final[tuple[tuple[str, Spoil], ...]] = (
    _branch(width=(-1.5, -0.5, 0.5, 1.2, "tight", "close")),
    _branch("medial", "lateral", width=(-1.0, -0.6, "tight")),
    _branch(width=(3.8, 7.0, 11.0, 14.0, "wide")),
    _branch(width=(4.8, 8.0, 12.0, "full")),
    _branch(length=(-2, -1, 26, 30)),
    _branch("medial", "lateral", length=(-3, -2, -1)),
    _branch(length=("short", "long", "uncovered")),
    _longer(-9, -5, -3.5),
    _longer(6, 12, 18),
    _longer(9, 22, 30),
    _branch(frog_gap=(-1, 0, 2, 4, "touching")),
    _branch("medial", to_cleft=(30, 40)),
    _put("toe_fit", overhang=(-4, -1, 2.4, 4, "over", "set_back")),
    _put("toe_fit", overhang=(-9, -6, -5)),
    _put("toe_fit", medial_overhang=(-1, 2.2, 4, "inside", "over")),
    _put("toe_fit", lateral_overhang_least=(-0.8, -2)),
    ("toe_fit", _clips),
    ("toe_fit", _clips),
    _put("toe_fit", wall_rasped_back=(True,)),
    _put("levelness", rocks=(True,)),
    ("levelness", _gap),
    ("levelness", _tipping),
    _put("levelness", lateral_height=(66, 70)),
    _put("levelness", medial_height=(66, 70)),
    _put("scorch", coverage=(0.7, 0.85, 0.92, "patchy", "poor")),
    _put("scorch", sole_scorch=(4, 6, "scorched"), sole_pressure=(True, False)),
    _put("scorch", contact_time=(20, 50, 90, 200, "long")),
    _put("scorch", shoe_heat=("black", "dull_red"), contact_time=(12, 14)),
    ("scorch", _dark),
    ("scorch", _bare),
    _nail(exit_height=(5, 12, 14, 15, "low")),
    _nail(exit_height=(38, 43, 46, "high")),
    _nail(reaction=("flinch",), blood=(True, False, False)),
    _nail(sound=("soft",)),
    _nail(sound=("soft",), wall_thickness=(5, 5.5)),
    _nail(hole_inset=(3, 12.5)),
    _nail(to_white_line=(-1.5, -3.5, "inside")),
    _nail(position=(0.55, 0.7)),
    _nail(at_clip=(True,)),
    _nail(notched=(True,)),
    _nail(width=(6,), clinch_length=(2, 10)),
    ("nails", _head),
    ("nails", _clinch),
    ("nails", _clinch),
    ("nails", _pulled_nails),
    ("nails", _one_sided),
    ("nails", _low_row),
    _together(_longer(-9, -11), _put("toe_fit", overhang=(-2, -4))),
    _branch("medial", width=(-1.5, "tight"), length=(-2, "short")),
    _together(_put("scorch", coverage=(0.7, "patchy")), _put("levelness", rocks=(True,))),
    _together(_put("dressing", axis=("broken_back",)), _size("hoof", heel_height=(20,))),
    _together(_put("dressing", across=("inner_high",)), _put("dressing", axis_front=("outer_toe",))),
    _together(_put("old_shoe", on_sole=(True,)), ("history", _overdue)),
    ("nails", _thin_wall),
    ("history", _overdue),
    _put("history", old_hole_drop=(2, 19)),
    _put("finish", hand=("rough", "sharp"), rasped_above_clinches=(True, False)),
    _put("finish", rasped_below=("heavily",)),
    _put("going", "finish", walk=("short",), turn=("tender",)),
    _put("going", "finish", trot_up=("uneven", "lame")),
    _put("going", "finish", before=("uneven",), trot_up=("uneven",)),
    _put("going", "finish", landing=("toe_first", "inner_first", "outer_first"), stands=("frets", "quiet")),
    _put("going", "finish", strikes=("brushes", "forges"), strikes_before=(True, False)),
    _put("going", before=("uneven", "lame")),
    _put("dressing", axis=("broken_back", "broken_forward")),
    _put("dressing", axis_front=("inner_toe", "outer_toe")),
    _put("dressing", across=("inner_high", "outer_high")),
    _put("dressing", surface=("uneven", "below_sole")),
    _put("dressing", sole=("pared", "cut_thin"), frog=("cut_away",)),
    _put("dressing", bars=("cut_away",), seat_of_corn=("bears",)),
    _put("dressing", horn=("broken",), edge=("sharp",)),
    _put("dressing", flare=("marked",), toe_shortened=(True,)),
    _put("dressing", old_stubs=(True,)),
    ("dressing", _seen),
    _put("old_shoe", on_sole=(True,), carried_forward=(True,)),
    _put("old_shoe", slack_nails=(True,), wear=("inner",)),
    _size("hoof", toe_angle=(36, 58, 64)),
    _size("hoof", toe_angle=(50,), heel_angle=(43, 36)),
    _size("hoof", heel_height=(20, 24)),
    _size("shoe", web=(13, 34), plate=("rocks", "hollow", "trough", "saucer")),
    _size("shoe", seating_to_heel=(12,), fuller_depth=(3, 11)),
    _size("shoe", roll=(9, 14), edges=("sharp",)),
    _size("shoe", weight=(0.15, 0.25, 4.8), hole_spacing=(20, 45)),
    _size("shoe", calks=({"medial": 8, "lateral": 16}, {"medial": 16, "lateral": 16, "toe": 20})),
    _size("shoe", refit=(True,), new_thickness=(18, 22)),
)
"""Each fault with the part of the fitting that it needs: of the observations, or the hoof or the shoe itself."""
