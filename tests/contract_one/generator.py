"""Random fittings of the first contract, always the same ones: its fields, words and ranges as plain lists.

Nothing of the product is imported: what a client of release 1.0.0 could send stays what it was, whatever the product
learns. Every draw comes from ``random.random``, whose sequence for a seed Python promises to keep.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Sequence
from datetime import date, timedelta
from typing import Any, Final, NamedTuple, TypeVar

__all__ = ["KINDS", "SEED", "fittings"]

Table = dict[str, Any]
T = TypeVar("T")

SEED: Final = 20261129
KINDS: Final = ("plain", "units", "traced", "heights", "sparse", "edges")
"""Kinds of fittings, in turn: bare numbers; units, fractions and eye words; outlines; heights; most things left out;
numbers at the ends of their ranges."""

FEET: Final = ("left_fore", "right_fore", "left_hind", "right_hind")
STAGES: Final = ("hot_fit", "nailed", "finished")
WORKS: Final = ("riding", "harness", "draught")
HOOF_FORMS: Final = ("regular", "acute", "upright", "base_wide", "base_narrow")
SIDES: Final = ("medial", "lateral")
METHODS: Final = ("rule", "calliper", "feeler", "eye")
WIDTH_WORDS: Final = ("tight", "close", "full", "wide")
CLIPS: Final = ("seated", "proud", "too_deep")
CLINCHES: Final = ("flush", "proud", "cracked", "pulled", "missing", "sharp", "thin")
HEATS: Final = ("black", "dull_red", "cherry", "bright")
GAP_PLACES: Final = ("toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel")
NOTES: Final = ("Dry ground.", "Hornkluft außen, s. Karte", "“Ned”\nsecond visit €", "")
FITTED: Final = date(2026, 3, 4)


class Number(NamedTuple):
    """A number of the contract: where a good one lies and how far others stray, its range, and its unit."""

    good: float
    spread: float
    least: float
    most: float
    unit: str = "mm"


NUMBERS: Final = {
    "wall_thickness": Number(12, 1, 3, 30),
    "sole_thickness": Number(11, 2, 2, 40),
    "toe_wall_height": Number(95, 9, 10, 200),
    "wall_angle": Number(52, 5, 30, 100, "deg"),
    "shoe_thickness": Number(11, 1, 3, 30),
    "shoe_length": Number(160, 8, 60, 300),
    "length": Number(12, 4, -80, 120),
    "width": Number(3, 2, -60, 60),
    "frog_gap": Number(8, 3, -30, 80),
    "overhang": Number(0, 1.2, -60, 60),
    "side_overhang": Number(0.8, 1, -60, 60),
    "clip_height": Number(12, 2, 0, 60),
    "gap": Number(0.1, 0.4, 0, 30),
    "side_height": Number(60, 2, 10, 200),
    "exit_height": Number(25, 4, 0, 150),
    "wall_height": Number(79, 5, 10, 200),
    "hole_inset": Number(9, 1, 0, 40),
    "coverage": Number(0.98, 0.06, 0, 1, ""),
    "sole_scorch": Number(1, 2, 0, 60),
    "contact_time": Number(6, 8, 0, 600, "s"),
    "old_hole_drop": Number(11, 4, 0, 150),
}


def fittings(count: int, seed: int = SEED) -> Iterator[tuple[str, Table]]:
    """``count`` fittings with a name for each; the same ones, and the same first ones, for a seed."""
    draw = _Draw(random.Random(seed))
    for number in range(count):
        kind = KINDS[number % len(KINDS)]
        yield f"{kind}-{number:04}", _Maker(draw, kind).fitting()


class _Draw:
    """Draws of every kind out of ``random.random``."""

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng

    def chance(self, share: float) -> bool:
        return self._rng.random() < share

    def between(self, least: float, most: float) -> float:
        return least + (most - least) * self._rng.random()

    def one(self, of: Sequence[T]) -> T:
        return of[int(len(of) * self._rng.random())]

    def whole(self, least: int, most: int) -> int:
        return least + int((most - least + 1) * self._rng.random())

    def some(self, of: Sequence[T], count: int) -> list[T]:
        rest = list(of)
        return [rest.pop(int(len(rest) * self._rng.random())) for _ in range(count)]

    def stray(self, spread: float) -> float:
        """A number round 0 with that standard deviation, at most three times as much."""
        return spread * 2 * (self._rng.random() + self._rng.random() + self._rng.random() - 1.5)


class _Maker:
    """Makes one fitting of a kind."""

    def __init__(self, draw: _Draw, kind: str) -> None:
        self._draw = draw
        self._kind = kind
        self._care = draw.one((0.1, 0.1, 0.3, 0.6, 1.0, 2.0))
        self._share = 0.4 if kind == "sparse" else 0.995 if self._care < 0.2 else 0.95
        self._faults = draw.one((0.0, 0.0, 0.03, 0.15, 1.0))
        self._holes = draw.one((4, 4, 4, 4, 5, 6))

    def fitting(self) -> Table:
        draw = self._draw
        stage = draw.one(STAGES)
        hot = draw.one((True, None) if stage == "hot_fit" else (True, True, False, None))
        horse = draw.whole(101, 140)
        parts: dict[str, Callable[[], Any]] = {
            "heel_fit": self._heel_fit,
            "toe_fit": self._toe_fit,
            "levelness": self._levelness,
            "nails": self._nails,
            "finish": self._finish,
            "soundness": lambda: self._some({"trot_up": self._word("sound", "uneven", "lame")}),
            "history": self._history,
        }
        if hot is not False:
            parts["scorch"] = self._scorch
        if self._kind == "traced" or draw.chance(0.05):
            parts["outline"] = self._outline
        return self._some(
            {
                "hoof_form": draw.one(HOOF_FORMS),
                "horse": self._horse(horse),
                "person": self._some(
                    {"role": draw.one(("apprentice", "farrier"))}, keep={"id": f"A-{draw.whole(1, 5)}"}
                ),
                "assessor": {"id": f"S-{draw.whole(1, 3)}"},
                "visit": f"2026-03-04-H-{horse}",
                "hoof": self._numbers("wall_thickness", "sole_thickness", "wall_angle", wall_height="toe_wall_height"),
                "shoe": self._numbers(thickness="shoe_thickness", length="shoe_length"),
                "notes": draw.one(NOTES),
            },
            keep={
                "foot": draw.one(FEET),
                "stage": stage,
                "work": draw.one(WORKS),
                "observations": self._some({name: part() for name, part in parts.items()}),
            }
            | ({} if hot is None and draw.chance(0.5) else {"hot_fitted": hot}),
        )

    def _some(self, parts: Table, *, keep: Table | None = None) -> Table:
        """Most of the parts; what is left out is null or is not there. All of ``keep`` stays."""
        made = dict(keep or {})
        for name, value in parts.items():
            if self._draw.chance(self._share):
                made[name] = value
            elif name != "hoof_form" and self._draw.chance(0.4):
                made[name] = None
        return made

    def _horse(self, number: int) -> Table:
        ueln, transponder = f"276{number:03}AB{number:07}", f"{self._draw.one((276, 40, 968)):03}000{number:09}"
        name = None if self._draw.chance(0.05) else f"H-{number}"
        return self._some({"ueln": ueln, "transponder": transponder}, keep={"id": name})

    def _numbers(self, *names: str, **renamed: str) -> Table:
        return self._some(
            {name: self._number(of) for name, of in (dict(zip(names, names, strict=True)) | renamed).items()}
        )

    def _word(self, good: str, *others: str) -> str:
        return self._draw.one(others) if self._draw.chance(self._faults / 4) else good

    def _fault(self, share: float = 0.25) -> bool:
        return self._draw.chance(self._faults * share)

    def _number(self, name: str, of: Number | None = None) -> Any:
        """A number as clients write it: bare, or with a unit, an uncertainty or a method."""
        draw, number = self._draw, of or NUMBERS[name]
        if self._kind == "edges" and draw.chance(0.1):
            return draw.one((number.least, number.most, float(number.least), float(number.most)))
        value = number.good + draw.stray(number.spread * self._care)
        value = min(max(value, number.least), number.most)
        bare = round(value, draw.one((0, 1, 1, 2))) if number.most > 1 else round(value, 3)
        bare = min(max(bare, number.least), number.most)
        if self._kind != "units":
            return int(bare) if bare == int(bare) and draw.chance(0.5) else bare
        if name == "width" and draw.chance(0.25):
            word = draw.one(WIDTH_WORDS)
            return {"value": word} if draw.chance(0.2) else word
        if number.unit != "mm":
            return self._stated(bare, number)
        return draw.one((self._stated, self._stated, self._inches, self._fraction, self._centimetres))(bare, number)

    def _stated(self, value: float, number: Number) -> Any:
        draw = self._draw
        stated: Table = {"value": value}
        if number.unit and draw.chance(0.7):
            stated["unit"] = number.unit
        if draw.chance(0.5):
            stated["u"] = round(draw.between(0, number.spread), 3)
        elif number.unit == "mm" and draw.chance(0.7):
            stated["method"] = draw.one(METHODS)
        return stated

    def _inches(self, value: float, number: Number) -> Table:
        inches: Table = {"value": round(_inside(value, number) / 25.4, 3), "unit": "in"}
        return inches | ({"u": round(self._draw.between(0, number.spread) / 25.4, 3)} if self._draw.chance(0.4) else {})

    def _centimetres(self, value: float, number: Number) -> Table:
        centimetres: Table = {"value": round(_inside(value, number) / 10, 3), "unit": "cm"}
        return centimetres | ({"method": self._draw.one(METHODS)} if self._draw.chance(0.4) else {})

    def _fraction(self, value: float, number: Number) -> Table:
        """A workshop fraction such as 1 5/8."""
        under = self._draw.one((8, 16, 32))
        over = round(_inside(value, number) / 25.4 * under)
        whole, rest = divmod(abs(over), under)
        text = f"{whole} {rest}/{under}" if whole and rest else f"{rest}/{under}" if rest else str(whole)
        return {"value": ("-" if over < 0 else "") + text, "unit": "in"}

    def _heel_fit(self) -> Table:
        return self._some({side: self._numbers("length", "width", "frog_gap") for side in SIDES})

    def _toe_fit(self) -> Table:
        clip = "none" if self._draw.chance(0.2) else self._word(*CLIPS)
        fit = self._numbers("overhang", medial_overhang="side_overhang", lateral_overhang="side_overhang")
        fit |= self._some({"wall_rasped_back": self._fault(), "clip": clip})
        if clip != "none":
            fit |= self._numbers("clip_height")
        return fit

    def _levelness(self) -> Table:
        level = self._some(
            {
                "rocks": self._fault(),
                "gaps": self._some({place: self._number("gap") for place in GAP_PLACES}),
            }
        )
        if self._draw.chance(0.5):
            level |= self._numbers(medial_height="side_height", lateral_height="side_height")
        return level | (self._some({"heights": self._heights()}) if self._kind == "heights" else {})

    def _heights(self) -> list[list[float]]:
        """The bearing surface round the wall, tilted, bent and uneven by a little."""
        draw = self._draw
        radius, base = draw.between(55, 72), draw.between(50, 70)
        across, along, bend, noise = (draw.stray(size * self._care) for size in (0.01, 0.01, 0.4, 0.1))
        points = []
        for angle in range(-150, 151, draw.one((15, 25, 30))):
            x, y = _at(radius, angle)
            height = base + across * x + along * y + bend * math.cos(2 * math.radians(angle)) + draw.stray(noise)
            points.append([round(x, 1), round(y, 1), round(height, 2)])
        return points

    def _nails(self) -> list[Table]:
        draw = self._draw
        holes = [(side, hole) for side in SIDES for hole in range(1, self._holes + 1)]
        missing = draw.one((0, 0, 0, 1, 2, 3, len(holes) - 3, len(holes)))
        return [self._nail(side, hole) for side, hole in sorted(draw.some(holes, len(holes) - missing))]

    def _nail(self, side: str, hole: int) -> Table:
        nail = self._numbers("exit_height", "wall_height", "hole_inset")
        nail |= self._some(
            {
                "position": self._number("position", Number(0.12 * hole, 0.02, 0, 1, "")),
                "sound": self._word("firm", "soft"),
                "reaction": "flinch" if self._fault(0.05) else "none",
                "blood": self._fault(0.04),
                "clinch": self._word(*CLINCHES),
            }
        )
        return {"branch": side, "hole": hole, **nail}

    def _scorch(self) -> Table:
        draw = self._draw
        first = round(draw.between(-140, 130), 1)
        last = round(first + draw.between(0, 40 * self._care), 1)
        arcs = [[-150, 150]] if self._care < 0.2 or draw.chance(0.4) else [[-150, first], [min(last, 149), 150]]
        scorch = self._some(
            {
                "arcs": [] if self._fault(0.1) else arcs,
                "coverage": self._number("coverage"),
                "sole_scorch": self._number("sole_scorch"),
                "sole_pressure": self._fault(),
                "shoe_heat": draw.one(HEATS),
            }
        )
        if draw.chance(0.3):
            longest = round(draw.between(2, 60), 1)
            times = [longest, *(round(draw.between(0, longest), 1) for _ in range(draw.one((0, 1, 2, 20))))]
            held, *further = [
                {"value": time, "unit": "s", "u": 0.5} if self._kind == "units" else time for time in times
            ]
            scorch |= {"contact_time": held} | self._some({"further_contact_times": further})
        else:
            scorch |= self._numbers("contact_time")
        return scorch

    def _finish(self) -> Table:
        return self._some({"hand": self._word("smooth", "rough", "sharp"), "rasped_above_clinches": self._fault()})

    def _history(self) -> Table:
        intervals = (28, 35) if self._care < 0.2 else (0, 28, 35, 42, 43, 49, 56, 57, 80)
        shod = FITTED - timedelta(days=self._draw.one(intervals))
        return self._some(
            {
                "last_shod": shod.isoformat(),
                "fitted": FITTED.isoformat(),
                "old_hole_drop": self._number("old_hole_drop"),
            }
        )

    def _outline(self) -> Table:
        """A traced foot: an oval hoof, flat at the heels, and the shoe's outer edge beyond it, pinched somewhere."""
        draw = self._draw
        radius, longer = draw.between(55, 70), draw.between(1.0, 1.12)
        beyond, back = 1.0 + draw.stray(2 * self._care), 8 + draw.stray(4 * self._care)
        step = draw.one((5, 6, 10))
        hoof = [self._point(radius, longer, angle, 0.0) for angle in range(-150, 151, step)]
        pinched, depth = draw.between(-90, 90), draw.between(0, 3) if draw.chance(0.3) else 0.0
        shoe = [
            self._point(radius + beyond - (depth if abs(angle - pinched) < 8 else 0), longer, angle, back)
            for angle in range(-155, 156, 5)
        ]
        angles = [side * (24 + 13 * hole) for side in (-1, 1) for hole in range(1, self._holes + 1)]
        outline: Table = {"hoof": hoof, "shoe": shoe, "lateral": draw.one(("+x", "-x"))}
        if draw.chance(0.3):
            outline["hoof"] = hoof[::-1]
        return outline | self._some({"nail_holes": [self._point(radius - 10, longer, angle, 0.0) for angle in angles]})

    def _point(self, radius: float, longer: float, angle: float, back: float) -> list[float]:
        """A point round the foot, traced by hand; behind the quarters it lies up to ``back`` further to the rear."""
        x, y = _at(radius + self._draw.stray(0.15), angle)
        rear = max(0.0, abs(angle) - 110) / 45
        return [round(x, 2), round(y * longer - back * rear, 2)]


def _at(radius: float, angle: float) -> tuple[float, float]:
    """The point of a circle at an angle from the toe (deg), the toe towards +y."""
    return radius * math.sin(math.radians(angle)), radius * math.cos(math.radians(angle))


def _inside(value: float, number: Number) -> float:
    """``value`` so far inside its range that rounding in inches leaves it there; 0 rounds to 0."""
    return min(max(value, number.least + 1 if number.least else 0), number.most - 1)
