"""Random cases with a seed: readings crowded round the limits of a rulebook, and whole fittings as JSON documents.

Readings are drawn for every quantity of the book, also for those that no observation feeds.  Many lie exactly on a
limit, a hair to either side, or at the guarded end of their interval, for it is at the edges that evaluators differ.
"""

from __future__ import annotations

import math
import random
import tomllib
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from statistics import NormalDist
from typing import Any, Final, NamedTuple

__all__ = ["Case", "Edge", "Read", "edges_of", "random_cases", "random_fittings"]

Table = dict[str, Any]

SIDES: Final = ("medial", "lateral")
SITUATIONS: Final = {
    "foot": ("fore", "hind"),
    "stage": ("dressed", "hot_fit", "nailed", "finished"),
    "work": ("riding", "harness", "draught"),
    "hoof_form": ("regular", "acute", "upright", "bear", "wide", "narrow"),
    "hot_fitted": ("yes", "no"),
    "stance": ("regular", "base_wide", "base_narrow"),
}
_FORMS: Final = ("regular", "acute", "upright", "base_wide", "base_narrow")  # as fittings of the first contract say it
_NAILS: Final = tuple(f"nail:{side}:{hole}" for side in SIDES for hole in range(1, 7))
_STEPS: Final = (1e-6, 2e-6, 1e-4, 0.01, 0.1, 0.3)
_HAIR: Final = 2e-7  # less than half of the millionth that is compared
_UNCERTAINTIES: Final = (0.0, 0.02, 0.03, 0.1, 0.5, 1.0, 2.0)


class Read(NamedTuple):
    """One reading: a number with its standard uncertainty ``u`` in the quantity's own unit, or a word."""

    quantity: str
    place: str
    value: float | str
    u: float


class Case(NamedTuple):
    """One foot as an evaluator sees it."""

    situation: dict[str, str]
    readings: tuple[Read, ...]


class Edge(NamedTuple):
    """One end of one rule's range: ``times`` x the dimension ``of`` + ``plus``; ``guard`` is -1 or 1 where guarded."""

    end: str
    times: float
    of: str | None
    plus: float
    guard: int


def edges_of(book: Table) -> dict[str, list[Edge]]:
    """The ends of all ranges in a parsed rulebook, by quantity."""
    edges: dict[str, list[Edge]] = {name: [] for name in book["quantities"]}
    limited = [(rule["quantity"], rule) for rule in book["rules"].values()]
    limited += [
        (clause["reading"], clause)
        for joined in book["joined"].values()
        for clause in joined["when"]
        if "fires" in clause
    ]
    for quantity, limits in limited:
        for end, sign in (("low", 1), ("high", -1)):
            limit = limits.get(end)
            if limit is None:
                continue
            guard = sign if limits["fires"] == "guarded" else 0
            if isinstance(limit, dict):
                edges[quantity].append(Edge(end, limit["times"], limit["of"], _in_mm(limit.get("plus", 0.0)), guard))
            else:
                edges[quantity].append(Edge(end, 0.0, None, _in_mm(limit), guard))
    return edges


def _in_mm(limit: float | str) -> float:
    if not isinstance(limit, str):
        return limit
    whole, _, fraction = limit.lstrip("-").removesuffix(" in").rpartition(" ")
    over, under = map(int, fraction.split("/"))
    return round((int(whole or 0) + over / under) * 25.4 * (-1 if limit.startswith("-") else 1), 6)


def random_cases(folder: Path, seed: int, count: int) -> Iterator[Case]:
    """``count`` cases for the rulebook in ``folder``, always the same for one seed."""
    book: Table = {}
    for file in sorted(folder.glob("*.toml")):
        for section, records in tomllib.loads(file.read_text(encoding="utf-8")).items():
            book.setdefault(section, {}).update(records)
    maker = _CaseMaker(book, random.Random(seed))
    for _ in range(count):
        yield maker.case()


class _CaseMaker:
    def __init__(self, book: Table, rng: random.Random) -> None:
        self._quantities: Table = {
            name: record for name, record in book["quantities"].items() if record.get("judged") is not False
        }
        self._edges = edges_of(book)
        self._k = NormalDist().inv_cdf(1 - book["levels"]["guarded"]["probability"])
        followed = {edge.of for edges in self._edges.values() for edge in edges if edge.of}
        # Dimensions first: the limits that follow them are aimed at.
        self._order = sorted(self._quantities, key=lambda name: name not in followed)
        self._rng = rng

    def case(self) -> Case:
        rng = self._rng
        fullness = rng.choice((0.1, 0.5, 0.8, 0.95))
        nails = rng.sample(_NAILS, rng.randint(0, 8) if rng.random() < 0.9 else len(_NAILS))
        readings: list[Read] = []
        dimensions: dict[str, Read] = {}
        for quantity in self._order:
            for place in self._quantities[quantity]["places"]:
                for spot in nails if place == "nail" else (place,):
                    if rng.random() < fullness:
                        reading = self._reading(quantity, spot, dimensions)
                        readings.append(reading)
                        if place == "foot":
                            dimensions[quantity] = reading
        rng.shuffle(readings)
        return Case({key: rng.choice(words) for key, words in SITUATIONS.items()}, tuple(readings))

    def _reading(self, quantity: str, place: str, dimensions: dict[str, Read]) -> Read:
        record = self._quantities[quantity]
        if record["kind"] != "number":
            return Read(quantity, place, self._rng.choice(record.get("words", ("yes", "no"))), 0.0)
        u = self._rng.choice((*_UNCERTAINTIES, round(self._rng.uniform(0, 3), 3), self._rng.uniform(0, 3)))
        value = self._number(quantity, u, dimensions)
        least, most = record["range"]
        return Read(quantity, place, min(max(value, float(least)), float(most)), u)

    def _number(self, quantity: str, u: float, dimensions: dict[str, Read]) -> float:
        rng = self._rng
        targets = [
            self._target(edge, u, dimensions.get(edge.of or ""))
            for edge in self._edges[quantity]
            if edge.of is None or edge.of in dimensions
        ]
        least, most = self._quantities[quantity]["range"]
        kind = rng.random()
        if not targets or kind > 0.9:
            return self._rounded(rng.uniform(least, most))
        if kind < 0.25:
            return rng.choice(targets) + rng.choice((0.0, 0.0, -_HAIR, _HAIR))
        if kind < 0.55:
            return rng.choice(targets) + rng.choice((-1, 1)) * rng.choice(_STEPS)
        span = max(max(targets) - min(targets), 0.02 * (most - least))
        return self._rounded(rng.uniform(min(targets) - span, max(targets) + span))

    def _target(self, edge: Edge, u: float, dimension: Read | None) -> float:
        """The reading that lies exactly on the edge, or whose guarded end does."""
        if dimension is None:
            return edge.plus + edge.guard * self._k * u
        u = math.hypot(u, edge.times * dimension.u)
        return edge.times * float(dimension.value) + edge.plus + edge.guard * self._k * u

    def _rounded(self, value: float) -> float:
        return round(value, self._rng.choice((0, 1, 1, 2, 12)))


def random_fittings(seed: int, count: int) -> Iterator[Table]:
    """``count`` complete fittings as JSON documents of the Low Meadow yard, always the same for one seed."""
    maker = _FittingMaker(random.Random(seed))
    for _ in range(count):
        yield maker.fitting()


class _FittingMaker:
    def __init__(self, rng: random.Random) -> None:
        self._rng = rng

    def fitting(self) -> Table:
        rng = self._rng
        stage = rng.choice(("hot_fit", "nailed", "finished"))
        hot = rng.choice((True, None)) if stage == "hot_fit" else rng.choice((True, False, None))
        parts = {
            "heel_fit": self._heel_fit,
            "toe_fit": self._toe_fit,
            "levelness": self._levelness,
            "nails": self._nails,
            "finish": self._finish,
            "soundness": lambda: {"trot_up": self._of("sound", "uneven", "lame")},
            "history": self._history,
            "outline": self._outline,
        }
        if hot is not False:
            parts["scorch"] = self._scorch
        horse = f"H-{rng.randint(101, 140)}"
        person = rng.choice(({"id": f"A-{rng.randint(1, 3)}", "role": "apprentice"}, {"id": "F-1", "role": "farrier"}))
        fitting = {
            "foot": rng.choice(("left_fore", "right_fore", "left_hind", "right_hind")),
            "stage": stage,
            "work": rng.choice(SITUATIONS["work"]),
            "hoof_form": self._of(*_FORMS) or "regular",
            "hot_fitted": hot,
            "horse": self._maybe({"id": horse, "ueln": None, "transponder": None}),
            "person": self._maybe(person),
            "assessor": self._maybe({"id": "S-1"}),
            "visit": self._maybe(f"2026-03-04-{horse}"),
            "hoof": self._maybe(
                {
                    "wall_thickness": self._length(10.5, 1.5, least=4.0),
                    "sole_thickness": self._length(10, 3, least=3.0),
                    "wall_height": self._length(95, 10),
                }
            ),
            "shoe": self._maybe({"thickness": self._length(11, 1.5, least=4.0), "length": self._length(160, 10)}),
            "observations": {name: part() for name, part in parts.items() if rng.random() < 0.8},
            "notes": self._maybe("Low Meadow, dry ground."),
        }
        return {key: value for key, value in fitting.items() if value is not None or rng.random() < 0.5}

    def _maybe(self, value: Any) -> Any:
        return value if self._rng.random() < 0.85 else None

    def _of(self, *words: Any) -> Any:
        return self._maybe(self._rng.choice(words))

    def _yes_no(self, share_of_yes: float = 0.5) -> bool | None:
        return None if self._rng.random() < 0.15 else self._rng.random() < share_of_yes

    def _length(
        self,
        centre: float,
        spread: float,
        least: float = -50.0,
        words: tuple[str, ...] = (),
        most: float = math.inf,
    ) -> Any:
        """A length round ``centre`` (mm) as a bare number, in another unit, as a fraction of an inch or as a word."""
        rng = self._rng
        value = min(max(round(rng.gauss(centre, spread), rng.choice((0, 1, 1, 2))), least), most)
        forms: list[Any] = [
            None,
            {"value": round(value / 10, 3), "unit": "cm", "u": round(rng.uniform(0, 0.2), 3)},
            {"value": round(value / 25.4, 3), "unit": "in"},
            {"value": f"{round(value / 25.4 * 16)}/16", "unit": "in"},
            {"value": value, "u": round(rng.uniform(0, 3), 2)},
            {"value": value, "unit": "mm", "method": rng.choice(("rule", "calliper", "feeler", "eye"))},
            rng.choice(words) if words else value,
        ]
        return rng.choice((*forms, *(value for _ in forms)))

    def _plain(self, centre: float, spread: float, least: float, most: float, unit: str | None = None) -> Any:
        """A time or a share, with or without its unit and uncertainty."""
        value = min(max(round(self._rng.gauss(centre, spread), 3), least), most)
        stated = {"value": value, "unit": unit, "u": round(self._rng.uniform(0, spread), 3)}
        return self._of(value, value, {key: part for key, part in stated.items() if part is not None})

    def _heel_fit(self) -> Table:
        words = ("tight", "close", "full", "wide")
        wide = self._rng.choice((-1.0, 2.4, 2.4, 5.0, 9.0))
        return {
            side: self._maybe(
                {
                    "length": self._length(self._rng.choice((0, 10, 20)), 4),
                    "width": self._length(wide, 2, words=words),
                    "frog_gap": self._length(6, 3),
                }
            )
            for side in SIDES
        }

    def _toe_fit(self) -> Table:
        clip = self._of("none", "seated", "proud", "too_deep")
        return {
            "overhang": self._length(0, 2),
            "medial_overhang": self._length(0.8, 1),
            "lateral_overhang": self._length(0.8, 1),
            "wall_rasped_back": self._yes_no(),
            "clip": clip,
            "clip_height": None if clip == "none" else self._length(11, 2, least=0.0),
        }

    def _levelness(self) -> Table:
        places = ("toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel")
        return {
            "rocks": self._yes_no(),
            "gaps": self._maybe({place: self._length(0.3, 0.4, least=0.0) for place in places}),
            "heights": self._of([[x, y, round(self._rng.gauss(60, 0.4), 2)] for x, y in self._ring(65, 0)]),
            "medial_height": self._length(60, 3),
            "lateral_height": self._length(60, 3),
        }

    def _nails(self) -> list[Table]:
        rng = self._rng
        holes = [(side, hole) for side in SIDES for hole in range(1, 7)]
        high = rng.choice((22, 22, 22, 38))
        return [
            {
                "branch": side,
                "hole": hole,
                "exit_height": self._length(high, 6, least=0.0),
                "wall_height": self._length(70, 8, least=20.0),
                "position": self._plain(0.1 + 0.09 * hole, 0.05, 0.0, 1.0),
                "hole_inset": self._length(9, 1.5, least=0.0),
                "sound": self._of("firm", "firm", "firm", "soft"),
                "reaction": self._of("none", "none", "none", "flinch"),
                "blood": self._yes_no(0.2),
                "clinch": self._of("flush", "flush", "proud", "cracked", "pulled", "missing", "sharp", "thin"),
            }
            for side, hole in rng.sample(holes, rng.choice((0, 4, 5, 6, 7, 8, 8, 9)))
        ]

    def _scorch(self) -> Table:
        first, last = sorted(round(self._rng.uniform(-150, 150), 1) for _ in range(2))
        return {
            "arcs": self._of([[-150, 150]], [[-150, first], [last, 150]], [[first, last]], []),
            "coverage": self._plain(0.92, 0.08, 0.0, 1.0),
            "sole_scorch": self._length(2.5, 2, least=0.0),
            "sole_pressure": self._yes_no(),
            "shoe_heat": self._of("black", "dull_red", "cherry", "bright"),
            "contact_time": self._plain(self._rng.choice((8, 20, 45, 80)), 5, 0.0, 600.0, "s"),
        }

    def _finish(self) -> Table:
        return {"hand": self._of("smooth", "rough", "sharp"), "rasped_above_clinches": self._yes_no()}

    def _history(self) -> Table:
        fitted = date(2026, 3, 4)
        shod = fitted - timedelta(days=self._rng.choice((0, 28, 42, 43, 49, 56, 57, 80)))
        return {
            "last_shod": self._maybe(shod.isoformat()),
            "fitted": self._maybe(fitted.isoformat()),
            # More in the four weeks of the shortest interval is a slip, which is refused (25 mm a month).
            "old_hole_drop": self._length(11, 5, least=0.0, most=22.0),
        }

    def _outline(self) -> Table:
        seat = round(self._rng.gauss(1.5, 1.5), 1)
        holes = [point for point in self._ring(58, 0) if abs(point[0]) > 30]
        return {
            "hoof": self._ring(68, 0.3),
            "shoe": self._ring(68 + seat, 0.3),
            "nail_holes": self._maybe(holes),
            "lateral": self._rng.choice(("+x", "-x")),
        }

    def _ring(self, radius: float, noise: float) -> list[list[float]]:
        """Points round the bearing wall from heel to heel, the toe towards +y (mm)."""
        angles = range(-150, 151, 10)
        radii = [radius + self._rng.gauss(0, noise) for _ in angles]
        return [
            [round(r * math.sin(math.radians(a)), 2), round(r * math.cos(math.radians(a)), 2)]
            for r, a in zip(radii, angles, strict=True)
        ]
