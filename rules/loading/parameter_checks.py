"""Whether parameters and remarks of a rulebook are those that computations use, each in the unit of its use."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from rules.loading.record_checks import check_sourced, check_text, fail
from rules.model.figures import Parameter
from rules.rulebook import Rulebook

__all__ = ["ON_THE_PAGE", "check_parameters"]

_FILE: Final = "parameters.toml"
_VALUES: Final = {"trace": "mm", "stretch": "mm", "apart": "mm", "press": "mm", "growth": "mm/month"}
"""Parameters that must have a value, with their units."""

_RANGES: Final = {
    "place_toe": "deg",
    "place_quarter": "deg",
    "place_heel": "deg",
    "heat_black": "degC",
    "heat_dull_red": "degC",
    "heat_cherry": "degC",
    "heat_bright": "degC",
    "wall_angle": "deg",
    "nail_bow": "mm",
    "growth": "mm/month",
}
"""Parameters that must have a range, with their units."""

_TOGETHER: Final[tuple[dict[str, str], ...]] = (
    {"height_spot": "mm", "flat_chance": "1", "flatness_unsure": "mm"},
    {"turned_in_heels": "mm", "past_thickness": "mm"},
    {
        "trace_wander": "mm",
        "trace_wander_length": "mm",
        "trace_frame": "mm",
        "trace_scale": "1",
        "trace_shaking": "mm",
        "photograph_tap": "mm",
        "photograph_taps_apart": "mm",
        "photograph_scale": "1",
        "photograph_tilt": "1",
        "buttress_earliest": "deg",
    },
)
"""Values that a book gives together or not at all, with their units; without them the first contract's sums stand."""

_PHOTOGRAPHS: Final = {
    "photograph_card_long": "mm",
    "photograph_card_short": "mm",
    "photograph_sheet_long": "mm",
    "photograph_sheet_short": "mm",
    "photograph_card_odd": "1",
    "photograph_tap_screen": "px",
    "photograph_tap_least": "px",
    "photograph_tap_unknown": "px",
    "photograph_edge_off": "mm",
    "photograph_rule_tilt": "1",
    "photograph_edge_reach_screen": "px",
    "photograph_edge_smoothing": "px",
    "photograph_edge_beside": "px",
    "photograph_edge_stands_out": "1",
    "photograph_edge_change": "1",
    "photograph_edge_nearness": "1",
    "photograph_taps_hoof": "1",
    "photograph_taps_shoe": "1",
    "photograph_points": "1",
    "photograph_at_heel": "1",
    "photograph_at_quarter": "1",
}
"""Values that the page reckons with where a foot is tapped on a photograph."""

_REACH: Final = {"photograph_edge_reach": "px"}
"""A range of the same."""

ON_THE_PAGE: Final = (*_PHOTOGRAPHS, *_REACH)
"""What the page asks of the service."""

_REMARKS: Final[dict[str, tuple[str, ...]]] = {
    "nail_path": (),
    "growth_assumed": (),
    "due_interval": ("date", "days", "place"),
    "due_heel_support": ("date", "days", "place"),
    "due_today": ("date", "days", "place"),
}
"""The remarks, with the placeholders that each may have."""

_PERFECT_CONTACT: Final = {"horn_diffusivity": "m2/s", "horn_temperature": "degC"}
"""Ranges of a book that takes the contact of hot iron as perfect, and looks no further than its end."""

_COURSE: Final = {
    "horn_conductivity": "W/(m K)",
    "course_diffusivity": "m2/s",
    "surface_conductance": "W/(m2 K)",
    "tissue_conductivity": "W/(m K)",
    "tissue_heat_capacity": "J/(m3 K)",
    "perfusion": "1/s",
    "living_temperature": "degC",
    "dead_temperature": "degC",
    "iron_thickness": "mm",
    "iron_heat_capacity": "J/(m3 K)",
    "iron_loss": "W/(m2 K)",
    "hold_pause": "s",
}
"""Values or ranges of a book that follows the heat over its whole course."""

_BY_CHANCE: Final = {
    "trace_common": "1",
    "growth_slip": "mm/month",
    "interval_doubt": "d",
    "quarter_position": "1",
    "sole_inner_face": "mm",
    "fewest_for_share": "1",
}
"""Values of a book that judges by chance."""

_WALLS: Final = {"wall_thinning_fore": "1", "wall_thinning_hind": "1", "hole_step": "1"}
"""Ranges of such a book: the wall at the quarters over that at the toe, and how far apart holes stand."""

_HEATS: Final[tuple[tuple[dict[str, str], dict[str, tuple[str, ...]]], ...]] = (
    (_PERFECT_CONTACT, {"heat": (), "heat_adds_up": ()}),
    (_COURSE, {"heat_course": ()}),
)
"""The two ways in which a book may have heat computed: parameters with their units, and remarks."""

_REMARKS_WITH: Final = {
    "trace_wander": ("no_buttress", "hidden_border", "trace_smoothed"),
    "height_spot": ("heights_unsure",),
}
"""Remarks that a book has, without placeholders, where it has a parameter, and no other book."""

_MAY_BE_NEGATIVE: Final = frozenset({"degC"})


def check_parameters(book: Rulebook) -> None:
    """Each parameter and remark that the computations use is there, usable, and no other.

    Raises RulebookError.
    """
    units, remarks = _demanded(book)
    for name in units:
        if name not in book.parameters:
            fail(_FILE, f"parameters.{name}", "this table is missing", f"Add [parameters.{name}]")
    for name, parameter in book.parameters.items():
        _check_one(book, name, parameter, units)
    for name, placeholders in remarks.items():
        if name not in book.remarks:
            fail(_FILE, f"remarks.{name}", "this table is missing", f"Add [remarks.{name}]")
        check_text(_FILE, f"remarks.{name}.text", book.remarks[name].text, placeholders)
    for name in book.remarks:
        if name not in remarks:
            fail(_FILE, f"remarks.{name}", "nothing makes this remark", f"Known: {', '.join(sorted(remarks))}")


def _demanded(book: Rulebook) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
    """The units of the parameters that ``book`` must have, and the placeholders of its remarks."""
    either, remarks = _HEATS[any(name in book.parameters for name in _COURSE)]
    units, remarks = _VALUES | _RANGES | either, _REMARKS | remarks
    if book.judges.by_chance:
        units, remarks = units | _BY_CHANCE | _WALLS, remarks | {"interval_doubted": ()}
    for group in (*_TOGETHER, _PHOTOGRAPHS | _REACH):
        if not book.parameters.keys().isdisjoint(group):
            units |= group
    for parameter_id, names in _REMARKS_WITH.items():
        if parameter_id in book.parameters:
            remarks |= dict.fromkeys(names, ())
    return units, remarks


def _check_one(book: Rulebook, name: str, parameter: Parameter, units: Mapping[str, str]) -> None:
    key = f"parameters.{name}"
    unit = units.get(name)
    if unit is None:
        known = ", ".join(sorted(units))
        fail(_FILE, key, "nothing reckons with this parameter", f"Known: {known}")
    check_sourced(book, _FILE, key, parameter)
    if parameter.unit != unit:
        fail(_FILE, f"{key}.unit", f"unit {parameter.unit!r} is not what is reckoned in", f"Write {unit!r}")
    if any(name in group for group in (_VALUES, _BY_CHANCE, _PHOTOGRAPHS, *_TOGETHER)) and parameter.value is None:
        fail(_FILE, f"{key}.value", "this key is missing", "Give the value")
    if name in _RANGES | _PERFECT_CONTACT | _WALLS | _REACH and parameter.low is None:
        fail(_FILE, f"{key}.low", "this key is missing", "Give low and high")
    figures = [figure for figure in (parameter.low, parameter.value, parameter.high) if figure is not None]
    if figures != sorted(figures):
        fail(_FILE, f"{key}.value", "it lies outside low to high", "Correct one of the three")
    if figures[0] < 0 and unit not in _MAY_BE_NEGATIVE:
        fail(_FILE, key, "a figure below nought makes no sense here", "Write 0 or more")
