"""A fitting with every field that the second contract adds, in its JSON."""

from __future__ import annotations

from typing import Any, Final

__all__ = ["BARE_FOOT", "NEW_FIELDS"]

NEW_FIELDS: Final[dict[str, Any]] = {
    "foot": "left_fore",
    "stage": "finished",
    "work": "draught",
    "hoof_form": "acute",
    "stance": "base_wide",
    "hoof": {
        "wall_thickness": 11,
        "quarter_thickness": 9,
        "toe_angle": 48,
        "heel_angle": 50,
        "heel_height": 45,
        "bulbs": 30,
        "coronet_overhang": {"medial": 4, "lateral": -2},
        "heels": "turned_in",
    },
    "shoe": {
        "thickness": 11,
        "web": 25,
        "plate": "flat",
        "seating_to_heel": 25,
        "fuller_depth": 7,
        "roll": 5,
        "calks": {"medial": 12, "lateral": 12, "toe": 10},
        "weight": 1.2,
        "edges": "filed",
        "hole_spacing": {"value": "1 1/8", "unit": "in"},
        "holes": [{"branch": "medial", "hole": 2, "to_white_line": 1}, {"branch": "lateral", "hole": 6}],
        "refit": True,
        "new_thickness": 12,
    },
    "observations": {
        "dressing": {
            "axis": "straight",
            "axis_front": "middle",
            "across": "level",
            "surface": "level",
            "sole": "whole",
            "frog": "trimmed",
            "bars": "shortened",
            "seat_of_corn": "free",
            "horn": "sound",
            "edge": "rounded",
            "flare": "slight",
            "toe_shortened": False,
            "old_stubs": False,
        },
        "seen": [
            {"what": "crack", "place": "medial_toe", "deep": True},
            {"what": "crack", "place": "lateral_toe"},
            {"what": "blood", "place": "sole", "deep": True, "examined": True},
        ],
        "old_shoe": {"wear": "inner", "on_sole": False, "carried_forward": True, "slack_nails": False},
        "heel_fit": {
            "as_before": False,
            "medial": {"length": 11, "width": 2.4, "width_least": 1.0, "frog_gap": 8, "to_cleft": 40},
            "lateral": {"length": 11, "width": 3, "width_least": 1.5, "frog_gap": 8, "to_cleft": 41},
        },
        "toe_fit": {
            "overhang": 0,
            "medial_overhang": 0.5,
            "lateral_overhang": 0.5,
            "medial_overhang_least": 0.2,
            "lateral_overhang_least": 0.1,
            "clips": [
                {"at": "toe", "state": "seated", "height": 12},
                {"at": "medial_quarter", "state": "proud", "height": 10},
            ],
        },
        "levelness": {"sole_pressure": False, "gaps": {"toe": 0, "medial_heel": 0, "lateral_heel": 0}},
        "nails": [
            {
                "branch": "medial",
                "hole": 2,
                "exit_height": 22,
                "to_white_line": 1.5,
                "wall_thickness": 10,
                "width": 6,
                "head": "seated",
                "clinch_length": 4,
                "notched": True,
                "at_clip": False,
            }
        ],
        "nails_even": {"medial": "even", "lateral": "uneven"},
        "scorch": {
            "coverage": 0.98,
            "dark": ["toe"],
            "holds": [
                {"start": 0, "seconds": 6, "heat": "cherry"},
                {"start": 66, "seconds": {"value": 9, "u": 0.5}, "heat": "dull_red"},
            ],
        },
        "finish": {"hand": "smooth", "rasped_below": "lightly"},
        "going": {
            "before": "sound",
            "walk": "free",
            "turn": "free",
            "trot_up": "sound",
            "landing": "flat",
            "stands": "quiet",
            "strikes": "none",
            "strikes_before": False,
        },
    },
}
"""Everything but outlines and heights, on one foot, and nothing said twice."""

BARE_FOOT: Final[dict[str, Any]] = {
    "foot": "left_fore",
    "stage": "dressed",
    "work": "draught",
    "hoof": NEW_FIELDS["hoof"],
    "observations": {
        **{part: NEW_FIELDS["observations"][part] for part in ("dressing", "seen", "old_shoe")},
        "going": {"before": "sound"},
        "history": {"last_shod": "2026-01-21", "fitted": "2026-03-04"},
    },
}
"""All that may be observed of the bare foot."""
