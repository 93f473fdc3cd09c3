"""From a case of single readings to a whole fitting in the contract's JSON, where the contract has a field for each."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, Final

from fitcheck.fitting.observables import row_of
from fitcheck.fitting.row import list_of
from rules import shipped_rulebook
from rules.model.records import Scaled
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
    clips: dict[str, dict[str, Any]] = {}
    if _follows_what_is_computed(case):
        return None
    for read in case.readings:
        if not _said(fitting, nails, clips, read):
            return None
    if clips:
        _put(fitting, "observations.toe_fit.clips", list(clips.values()))
    if nails:
        fitting["observations"]["nails"] = list(nails.values())
    if not fitting["hot_fitted"] and (given["stage"] == "hot_fit" or "scorch" in fitting["observations"]):
        return None  # the contract calls that a contradiction
    return fitting


def _said(fitting: dict[str, Any], nails: dict[str, Any], clips: dict[str, Any], read: Read) -> bool:
    """Put one reading where it belongs; whether the contract has a field for it."""
    row = row_of(read.quantity, spot_of(read.place))
    if read.quantity == "days_since_shod" and not isinstance(read.value, str):
        last = _FITTED - timedelta(days=round(read.value))
        fitting["observations"]["history"] = {"last_shod": last.isoformat(), "fitted": _FITTED.isoformat()}
    elif read.quantity == "width_allowance":
        _put(fitting, "hoof.heels", "turned_in" if read.value else "straight")
    elif row is not None and row.measure == "seen":
        _put_seen(fitting, read)
    elif row is None or row.measure not in {None, "by_eye"} or (row.quantity == "clip" and read.value == "none"):
        return False  # computed from several fields, or a list that has no clip that is none
    elif row.places == ("nail",):
        _, branch, hole = read.place.split(":")
        nail = nails.setdefault(read.place, {"branch": branch, "hole": int(hole)})
        nail[row.field.rpartition(".")[2]] = _value(read)
    elif list_of(row.field) is not None:
        clips.setdefault(read.place, {"at": read.place})[row.field.rpartition(".")[2]] = _value(read)
    else:
        _put(fitting, row.at(read.place), _value(read))
    return True


def _follows_what_is_computed(case: Case) -> bool:
    """Whether a limit follows a size that a measure always gives, and the case goes without it."""
    rule = shipped_rulebook().rules.get(case.rule)
    limits = () if rule is None else (rule.low, rule.high)
    for limit in limits:
        row = row_of(limit.of, "foot") if isinstance(limit, Scaled) else None
        if row is not None and row.measure is not None and (row.quantity, "foot") not in case.table:
            return True
    return False


def _value(read: Read) -> Any:
    if isinstance(read.value, str):
        return {"yes": True, "no": False}.get(read.value, read.value)
    return {"value": read.value, "u": read.u}


def _put_seen(fitting: dict[str, Any], read: Read) -> None:
    seen: dict[str, Any] = {"what": read.quantity.removeprefix("seen_"), "place": read.place}
    if read.value != "seen":
        seen[str(read.value)] = True
    fitting["observations"].setdefault("seen", []).append(seen)


def _put(fitting: dict[str, Any], path: str, value: Any) -> None:
    *parents, last = path.split(".")
    here = fitting
    for step in parents:
        here = here.setdefault(step, {})
    here[last] = value
