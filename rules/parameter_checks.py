"""What the computations ask of a rulebook: figures and remarks by name, in the units that they reckon in."""

from __future__ import annotations

from typing import Final

from rules.model import Parameter
from rules.record_checks import check_sourced, check_text, fail
from rules.rulebook import Rulebook

__all__ = ["check_parameters"]

_FILE: Final = "parameters.toml"
_VALUES: Final = {"trace": "mm", "stretch": "mm", "apart": "mm", "press": "mm", "growth": "mm/month"}
"""Parameters that must have a value, with their units."""

_RANGES: Final = {
    "place_toe": "deg",
    "place_quarter": "deg",
    "place_heel": "deg",
    "horn_diffusivity": "m2/s",
    "horn_temperature": "degC",
    "heat_black": "degC",
    "heat_dull_red": "degC",
    "heat_cherry": "degC",
    "heat_bright": "degC",
    "wall_angle": "deg",
    "nail_bow": "mm",
    "growth": "mm/month",
}
"""Parameters that must have a range, with their units."""

_REMARKS: Final[dict[str, tuple[str, ...]]] = {
    "heat": (),
    "heat_adds_up": (),
    "nail_path": (),
    "growth_assumed": (),
    "due_interval": ("date", "days", "place"),
    "due_heel_support": ("date", "days", "place"),
    "due_today": ("date", "days", "place"),
}
"""The remarks, with the placeholders that each may have."""

_BELOW_NOUGHT: Final = frozenset({"degC"})


def check_parameters(book: Rulebook) -> None:
    """Each parameter and remark that the computations use is there, usable, and no other.

    Raises RulebookError.
    """
    for name in {**_VALUES, **_RANGES}:
        if name not in book.parameters:
            fail(_FILE, f"parameters.{name}", "this table is missing", f"Add [parameters.{name}]")
    for name, parameter in book.parameters.items():
        _check_one(book, name, parameter)
    for name, placeholders in _REMARKS.items():
        if name not in book.remarks:
            fail(_FILE, f"remarks.{name}", "this table is missing", f"Add [remarks.{name}]")
        check_text(_FILE, f"remarks.{name}.text", book.remarks[name].text, placeholders)
    for name in book.remarks:
        if name not in _REMARKS:
            fail(_FILE, f"remarks.{name}", "nothing makes this remark", f"Known: {', '.join(sorted(_REMARKS))}")


def _check_one(book: Rulebook, name: str, parameter: Parameter) -> None:
    key = f"parameters.{name}"
    unit = _VALUES.get(name) or _RANGES.get(name)
    if unit is None:
        known = ", ".join(sorted({**_VALUES, **_RANGES}))
        fail(_FILE, key, "nothing reckons with this parameter", f"Known: {known}")
    check_sourced(book, _FILE, key, parameter)
    if parameter.unit != unit:
        fail(_FILE, f"{key}.unit", f"unit {parameter.unit!r} is not what is reckoned in", f"Write {unit!r}")
    if name in _VALUES and parameter.value is None:
        fail(_FILE, f"{key}.value", "this key is missing", "Give the value")
    if name in _RANGES and parameter.low is None:
        fail(_FILE, f"{key}.low", "this key is missing", "Give low and high")
    figures = [figure for figure in (parameter.low, parameter.value, parameter.high) if figure is not None]
    if figures != sorted(figures):
        fail(_FILE, f"{key}.value", "it lies outside low to high", "Correct one of the three")
    if figures[0] < 0 and unit not in _BELOW_NOUGHT:
        fail(_FILE, key, "a figure below nought makes no sense here", "Write 0 or more")
