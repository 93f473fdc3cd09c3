"""From a case of single readings to a whole fitting in the contract's JSON, where the contract has a field for each."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, Final

from fitcheck.fitting.observables import row_of
from rules.situation import spot_of
from tests.support.limit_cases import Case, Read

__all__ = ["as_fitting"]

_FITTED: Final = date(2026, 3, 4)


def as_fitting(case: Case) -> dict[str, Any] | None:
    """The fitting that a client would send for the case's readings; None where the contract cannot say it."""
    given = case.given
    fitting: dict[str, Any] = {
        "foot": f"left_{given['foot']}",
        "stage": given["stage"],
        "work": given["work"],
        "hoof_form": given["hoof_form"],
        "stance": given["stance"],
        "hot_fitted": given["hot_fitted"] == "yes",
        "observations": {},
    }
    nails: dict[str, dict[str, Any]] = {}
    for read in case.readings:
        row = row_of(read.quantity, spot_of(read.place))
        if read.quantity == "days_since_shod" and not isinstance(read.value, str):
            last = _FITTED - timedelta(days=round(read.value))
            fitting["observations"]["history"] = {"last_shod": last.isoformat(), "fitted": _FITTED.isoformat()}
        elif row is None or row.measure not in {None, "by_eye"}:
            return None
        elif row.places == ("nail",):
            _, branch, hole = read.place.split(":")
            nail = nails.setdefault(read.place, {"branch": branch, "hole": int(hole)})
            nail[row.field.rpartition(".")[2]] = _value(read)
        else:
            _put(fitting, row.at(read.place), _value(read))
    if nails:
        fitting["observations"]["nails"] = list(nails.values())
    if not fitting["hot_fitted"] and (given["stage"] == "hot_fit" or "scorch" in fitting["observations"]):
        return None  # the contract calls that a contradiction
    return fitting


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
