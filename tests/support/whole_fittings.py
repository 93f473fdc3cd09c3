"""From a case of single readings to a whole fitting in the contract's JSON, where the contract has a field for each."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, Final

from tests.support.limit_cases import Case, Read

__all__ = ["as_fitting"]

_FITTED: Final = date(2026, 3, 4)
_TOE: Final = {"toe": "overhang", "medial_quarter": "medial_overhang", "lateral_quarter": "lateral_overhang"}
_NAIL: Final = {"exit_height", "position", "sound", "reaction", "blood", "clinch"}
_PATHS: Final = {
    "shoe_thickness": "shoe.thickness",
    "wall_thickness": "hoof.wall_thickness",
    "wall_rasped_back": "observations.toe_fit.wall_rasped_back",
    "clip": "observations.toe_fit.clip",
    "clip_height": "observations.toe_fit.clip_height",
    "rocks": "observations.levelness.rocks",
    "coverage": "observations.scorch.coverage",
    "sole_scorch": "observations.scorch.sole_scorch",
    "sole_pressure": "observations.scorch.sole_pressure",
    "shoe_heat": "observations.scorch.shoe_heat",
    "contact_time": "observations.scorch.contact_time",
    "hand": "observations.finish.hand",
    "rasped_above_clinches": "observations.finish.rasped_above_clinches",
    "trot_up": "observations.soundness.trot_up",
}


def as_fitting(case: Case) -> dict[str, Any] | None:
    """The fitting that a client would send for the case's readings; None where the contract cannot say it."""
    given = case.given
    fitting: dict[str, Any] = {
        "foot": f"left_{given['foot']}",
        "stage": given["stage"],
        "work": given["work"],
        "hoof_form": given["hoof_form"],
        "hot_fitted": given["hot_fitted"] == "yes",
        "observations": {},
    }
    nails: dict[str, dict[str, Any]] = {}
    for read in case.readings:
        if read.quantity in _NAIL:
            _, branch, hole = read.place.split(":")
            nail = nails.setdefault(read.place, {"branch": branch, "hole": int(hole)})
            nail[read.quantity] = _value(read)
        elif read.quantity == "days_since_shod" and not isinstance(read.value, str):
            last = _FITTED - timedelta(days=round(read.value))
            fitting["observations"]["history"] = {"last_shod": last.isoformat(), "fitted": _FITTED.isoformat()}
        else:
            path = _path(read)
            if path is None:
                return None
            _put(fitting, path, _value(read))
    if nails:
        fitting["observations"]["nails"] = list(nails.values())
    if not fitting["hot_fitted"] and (given["stage"] == "hot_fit" or "scorch" in fitting["observations"]):
        return None  # the contract calls that a contradiction
    return fitting


def _path(read: Read) -> str | None:
    if read.quantity in {"length", "width", "frog_gap"}:
        return f"observations.heel_fit.{read.place.removesuffix('_heel')}.{read.quantity}"
    if read.quantity == "overhang":
        return f"observations.toe_fit.{_TOE[read.place]}"
    if read.quantity == "gap":
        return f"observations.levelness.gaps.{read.place}"
    return _PATHS.get(read.quantity)


def _value(read: Read) -> Any:
    if isinstance(read.value, str):
        return {"yes": True, "no": False}.get(read.value, read.value)
    return {"value": read.value, "u": read.u}


def _put(fitting: dict[str, Any], path: str, value: Any) -> None:
    *parents, last = path.split(".")
    here = fitting
    for step in parents:
        here = here.setdefault(step, {})
    here[last] = value
