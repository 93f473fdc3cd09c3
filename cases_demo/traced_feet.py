"""Write the demo fittings that have traced outlines and measured heights, from the parameters below.

Run ``python cases_demo/traced_feet.py`` after a change here, then ``python cases_demo/refresh.py``.  The feet are
invented: the ground border is an ellipse, the shoe follows it at the overhangs named, angles run round the wall from
the toe (0 degrees) to the heels (150 degrees), positive to the lateral side.
"""

from __future__ import annotations

import json
import math
import random
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent
HEEL = 150.0
Profile = tuple[tuple[float, float], ...]
"""(angle, value) pairs between which values run straight; the first and last hold on beyond their angles."""


@dataclass(frozen=True)
class Foot:
    """One invented foot and its shoe; lengths in mm, angles in degrees."""

    notes: str
    foot: str = "left_fore"
    stage: str = "hot_fit"
    horse: str = "H-110"
    half_width: float = 70.0
    half_length: float = 74.0
    points: int = 72
    overhang: Profile = ((-150, 2.8), (-90, 2.2), (-75, 0.6), (0, 0.2), (75, 0.6), (90, 2.2), (150, 2.8))
    past_buttress: tuple[float, float] = (12.0, 12.0)
    """Branch length past the buttress: medial, lateral."""
    shift: float = 0.0
    """How far the whole shoe stands off to the lateral side."""
    lateral: str = "+x"
    hole_angles: tuple[float, ...] = (25.0, 43.0, 61.0, 78.0)
    hole_inset: float = 9.0
    wall_thickness: float = 12.0
    heights: Profile = ((-150, 0.0), (150, 0.0))
    slope: float = 0.01
    """Slope of the bearing surface to the lateral side."""
    noise: float = 0.15
    seed: int = 1
    edits: dict[str, Any] = field(default_factory=dict)
    """Observations that differ from the good ones, by section."""


FEET: dict[str, Foot] = {
    "traced-good-fore": Foot("Low Meadow yard. Hoof and shoe traced, heights taken with a depth gauge: a good fit."),
    "traced-tight-lateral-heel": Foot(
        "Low Meadow yard. Traced: the lateral branch was closed in behind the last nail.",
        overhang=((-150, 2.8), (-90, 2.2), (-75, 0.6), (0, 0.2), (75, 0.5), (100, 0.2), (125, -1.8), (150, -2.6)),
        seed=2,
    ),
    "traced-pinch": Foot(
        "Low Meadow yard. Traced: wide enough on the whole, but one hammer mark brings the medial branch in.",
        overhang=(
            (-150, 4.0),
            (-142, 3.4),
            (-132, -2.2),
            (-124, -2.2),
            (-114, 2.6),
            (-60, 0.6),
            (0, 0.2),
            (60, 0.5),
            (150, 2.4),
        ),
        foot="right_fore",
        lateral="-x",
        seed=3,
    ),
    "traced-disagrees": Foot(
        "Low Meadow yard. Traced, and the lateral width read with a rule as well: one of the two is wrong.",
        edits={"heel_fit": {"lateral": {"width": 6, "frog_gap": 9}}},
        seed=8,
    ),
    "traced-crooked": Foot(
        "Low Meadow yard. Traced: a good shoe that slipped over to the lateral side while it was marked.",
        shift=3.0,
        past_buttress=(9.0, 15.5),
        seed=4,
    ),
    "measured-high-medial-heel": Foot(
        "Low Meadow yard. Heights taken: the medial heel was left high, and the shoe rocks on it.",
        heights=((-150, 1.8), (-125, 1.2), (-95, 0.0), (150, 0.0)),
        edits={"scorch": {"arcs": [[-150, -110], [-60, 90]]}},
        seed=5,
    ),
    "traced-short": Foot(
        "Low Meadow yard. Traced: a shoe picked a size under the foot.",
        overhang=(
            (-150, 2.6),
            (-90, 2.0),
            (-60, 0.4),
            (-30, -0.6),
            (0, -3.0),
            (30, -0.6),
            (60, 0.4),
            (90, 2.0),
            (150, 2.6),
        ),
        past_buttress=(-2.0, -1.0),
        seed=6,
    ),
    "traced-coarse-nails": Foot(
        "Low Meadow yard. Traced after nailing: the holes are stamped coarse for so thin a wall.",
        foot="left_hind",
        stage="nailed",
        hole_inset=12.5,
        wall_thickness=10.0,
        seed=7,
    ),
}


def at(profile: Profile, angle: float) -> float:
    """The profile's value at an angle."""
    if angle <= profile[0][0]:
        return profile[0][1]
    for (before, first), (after, second) in pairwise(profile):
        if angle <= after:
            return first + (second - first) * (angle - before) / (after - before)
    return profile[-1][1]


def border(foot: Foot, angle: float, out: float) -> tuple[float, float]:
    """The point at ``angle`` round the wall, ``out`` mm outside it, lateral towards +x."""
    turn = math.radians(angle)
    x, y = foot.half_width * math.sin(turn), foot.half_length * math.cos(turn)
    normal_x, normal_y = x / foot.half_width**2, y / foot.half_length**2
    length = math.hypot(normal_x, normal_y)
    return x + out * normal_x / length, y + out * normal_y / length


def outline(foot: Foot) -> dict[str, Any]:
    """Hoof, shoe and nail holes as a hand would trace them: a little unsteady, to a tenth of a millimetre."""
    rng = random.Random(foot.seed)  # noqa: S311  (an unsteady hand, nothing secret)
    sign = 1.0 if foot.lateral == "+x" else -1.0

    def traced(points: list[tuple[float, float]]) -> list[list[float]]:
        return [
            [round(sign * x + rng.gauss(0, foot.noise), 1), round(y + rng.gauss(0, foot.noise), 1)] for x, y in points
        ]

    angles = [-HEEL + 2 * HEEL * step / (foot.points - 1) for step in range(foot.points)]
    shoe = [border(foot, angle, at(foot.overhang, angle)) for angle in angles]
    shoe = [(x + foot.shift, y) for x, y in shoe]
    (_, medial_y), (_, lateral_y) = (border(foot, -HEEL, 0.0), border(foot, HEEL, 0.0))
    shoe = branch_end(shoe[::-1], lateral_y - foot.past_buttress[1], first=True)[::-1]
    shoe = branch_end(shoe, medial_y - foot.past_buttress[0], first=True)
    holes = [border(foot, side * angle, -foot.hole_inset) for side in (-1, 1) for angle in foot.hole_angles]
    return {
        "hoof": traced([border(foot, angle, 0.0) for angle in angles]),
        "shoe": traced(shoe),
        "nail_holes": traced(holes),
        "lateral": foot.lateral,
    }


def branch_end(points: list[tuple[float, float]], end_y: float, *, first: bool) -> list[tuple[float, float]]:
    """The shoe with its first branch drawn straight back, or cut off, to end at ``end_y``."""
    x, y = points[0]
    if end_y < y:
        steps = max(1, round((y - end_y) / 4))
        return [(x, end_y + (y - end_y) * step / steps) for step in range(steps)] + points
    kept = [point for point in points[: len(points) // 2] if point[1] >= end_y] + points[len(points) // 2 :]
    return kept if first else points


def heights(foot: Foot) -> list[list[float]]:
    """Heights round the bearing wall every 15 degrees, to a hundredth of a millimetre."""
    rng = random.Random(foot.seed + 100)  # noqa: S311  (an unsteady hand, nothing secret)
    sign = 1.0 if foot.lateral == "+x" else -1.0
    taken = []
    for step in range(21):
        angle = -HEEL + 15.0 * step
        x, y = border(foot, angle, -5.0)
        height = at(foot.heights, angle) + foot.slope * x + rng.gauss(0, 0.02)
        taken.append([round(sign * x, 1), round(y, 1), round(height, 2)])
    return taken


def fitting(foot: Foot) -> dict[str, Any]:
    """The fitting as JSON: what is traced is not read as well."""
    observations: dict[str, Any] = {
        "heel_fit": {"medial": {"frog_gap": 9}, "lateral": {"frog_gap": 9}},
        "toe_fit": {"wall_rasped_back": False, "clip": "seated", "clip_height": 13},
        "levelness": {"rocks": False, "heights": heights(foot)},
        "scorch": {
            "arcs": [[-149, 147]],
            "sole_scorch": 0,
            "sole_pressure": False,
            "shoe_heat": "cherry",
            "contact_time": 7,
        },
        "history": {"last_shod": "2026-01-26", "fitted": "2026-03-04", "old_hole_drop": 10},
        "outline": outline(foot),
    }
    if foot.stage != "hot_fit":
        observations["nails"] = [
            {
                "branch": branch,
                "hole": hole,
                "exit_height": round(27 - 1.2 * hole, 1),
                "wall_height": 88 - 6 * hole,
                "sound": "firm",
                "reaction": "none",
                "blood": False,
            }
            for branch in ("medial", "lateral")
            for hole in range(1, len(foot.hole_angles) + 1)
        ]
    shoe: dict[str, Any] = {"thickness": 12}
    if foot.stage == "hot_fit":
        shoe["holes"] = [
            {"branch": branch, "hole": hole, "to_white_line": "on_line"}
            for branch in ("medial", "lateral")
            for hole in range(1, len(foot.hole_angles) + 1)
        ]
    for section, edits in foot.edits.items():
        observations[section] = {**observations[section], **edits}
    return {
        "foot": foot.foot,
        "stage": foot.stage,
        "work": "draught",
        "hot_fitted": True,
        "horse": {"id": foot.horse},
        "person": {"id": "A-2", "role": "apprentice"},
        "assessor": {"id": "S-1"},
        "visit": f"2026-03-04-{foot.horse}",
        "hoof": {"wall_thickness": foot.wall_thickness, "sole_thickness": 11, "wall_height": 98, "wall_angle": 52},
        "shoe": shoe,
        "observations": observations,
        "notes": foot.notes,
    }


def written(document: Any, depth: int = 0) -> str:
    """JSON with one line for each list of points, so that a file can be read."""
    if isinstance(document, dict):
        pad = "  " * (depth + 1)
        parts = [f"{pad}{json.dumps(key)}: {written(value, depth + 1)}" for key, value in document.items()]
        return "{\n" + ",\n".join(parts) + "\n" + "  " * depth + "}"
    return json.dumps(document, ensure_ascii=False)


if __name__ == "__main__":
    for name, foot in FEET.items():
        (FOLDER / f"{name}.json").write_text(written(fitting(foot)) + "\n", encoding="utf-8")
