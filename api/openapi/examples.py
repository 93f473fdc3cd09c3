"""Example fittings for the reference, each with the decision that the shipped rulebook comes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Decision
from fitcheck.fitting.validation import parse_fitting
from rules import Rulebook

__all__ = ["EXAMPLES", "EXAMPLE_ID", "Example", "answer_to"]

EXAMPLE_ID: Final = "6f1c2f0e-8a55-4f0e-9a3e-2d1f0c5b7a10"
"""The id that examples in the reference have."""


@dataclass(frozen=True, slots=True)
class Example:
    """A fitting as a client sends it; ``decision`` is that of the shipped rulebook."""

    name: str
    summary: str
    fitting: dict[str, Any]
    decision: Decision


def answer_to(example: Example, book: Rulebook) -> Assessment:
    """The assessment of an example by ``book``, with an id and a time that do not change from one run to the next."""
    answer = assess(parse_fitting(example.fitting, book), book)
    return answer.model_copy(
        update={"id": "6f1c2f0e-8a55-4f0e-9a3e-2d1f0c5b7a10", "created": "2026-03-04T10:00:00.000Z"}
    )


def _nails() -> list[dict[str, Any]]:
    return [
        {
            "branch": branch,
            "hole": hole,
            "exit_height": height,
            "position": position,
            "sound": "firm",
            "reaction": "none",
            "blood": False,
        }
        for branch in ("medial", "lateral")
        for hole, height, position in ((1, 24, 0.2), (2, 23, 0.3), (3, 22, 0.4))
    ]


_HOT_FIT: Final[dict[str, Any]] = {
    "foot": "left_fore",
    "stage": "hot_fit",
    "work": "draught",
    "horse": {"id": "H-101"},
    "person": {"id": "A-1", "role": "apprentice"},
    "assessor": {"id": "S-1"},
    "visit": "2026-03-04-H-101",
    "shoe": {
        "thickness": 11,
        "holes": [
            {"branch": branch, "hole": hole, "to_white_line": "on_line"}
            for branch in ("medial", "lateral")
            for hole in (1, 2, 3)
        ],
    },
    "observations": {
        "heel_fit": {
            "medial": {"length": 11, "width": 2.4, "frog_gap": 8},
            "lateral": {"length": 11, "width": 2.4, "frog_gap": 8},
        },
        "toe_fit": {"overhang": 0.5, "medial_overhang": 0.5, "lateral_overhang": 0.8, "clip": "seated"},
        "levelness": {"rocks": False, "gaps": {"toe": 0, "medial_heel": 0.1, "lateral_heel": 0.1}},
        "scorch": {
            "coverage": 0.98,
            "sole_scorch": 0,
            "sole_pressure": False,
            "shoe_heat": "cherry",
            "contact_time": 6,
        },
    },
}
_FLINCH: Final[dict[str, Any]] = {
    "foot": "right_hind",
    "stage": "nailed",
    "work": "harness",
    "horse": {"id": "H-102"},
    "person": {"id": "F-1", "role": "farrier"},
    "shoe": {"thickness": 10, "length": 150},
    "observations": {
        "heel_fit": {"medial": {"length": 10, "width": 1.2}, "lateral": {"length": 10, "width": 2.4}},
        "toe_fit": {"overhang": 0},
        "levelness": {"rocks": False, "gaps": {"toe": 0}},
        "nails": [*_nails()[:-1], _nails()[-1] | {"reaction": "flinch"}],
    },
    "notes": "Flinched at the last nail on the outside.",
}
_INCHES: Final[dict[str, Any]] = {
    "foot": "right_fore",
    "stage": "hot_fit",
    "work": "harness",
    "shoe": {"thickness": {"value": "7/16", "unit": "in"}},
    "observations": {
        "heel_fit": {
            "medial": {"length": {"value": "7/16", "unit": "in"}, "width": "full"},
            "lateral": {"length": {"value": 1.1, "unit": "cm", "u": 0.05, "method": "calliper"}, "width": "tight"},
        },
        "toe_fit": {"overhang": {"value": "1/32", "unit": "in"}},
        "levelness": {"rocks": False, "gaps": {"toe": {"value": 0.05, "method": "feeler"}}},
        "scorch": {"coverage": 0.97, "sole_scorch": 0, "contact_time": {"value": 8, "unit": "s", "u": 0.5}},
    },
}
_LITTLE: Final[dict[str, Any]] = {
    "foot": "left_hind",
    "stage": "hot_fit",
    "work": "riding",
    "observations": {"toe_fit": {"overhang": 0}},
}

EXAMPLES: Final = (
    Example("all_is_well", "A fore foot tried hot: everything looked at, nothing to put right", _HOT_FIT, "go_on"),
    Example(
        "inches_and_words",
        "Readings in inches, with stated uncertainty and as words of the eye: a tight heel",
        _INCHES,
        "put_right",
    ),
    Example("flinch", "A hind foot just nailed, the horse flinched: stop", _FLINCH, "stop_and_refer"),
    Example("little_seen", "Only the toe was looked at: the answer says what is still needed", _LITTLE, "incomplete"),
)
