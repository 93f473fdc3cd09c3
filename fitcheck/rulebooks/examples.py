"""A foot that shows a fault of a rulebook, written as a fitting that a client could send."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from datetime import date, timedelta
from typing import Any, Final

from fitcheck.errors import BadInput
from fitcheck.fitting.observables import NAILS, fields_of, row_of
from fitcheck.fitting.readings import readings_of
from fitcheck.fitting.row import item_at
from fitcheck.fitting.validation import parse_fitting
from fitcheck.measure import measured
from fitcheck.measure.dates import DAYS_IN_A_MONTH
from rules import Reading, Rulebook, table_of
from rules.analysis.fault import Example
from rules.situation import side_of, spot_of

__all__ = ["as_fitting", "as_json"]

_FITTED: Final = date(2026, 3, 4)
_CLOSE: Final = 1e-6  # the millionth in which limits are compared
_MONTH: Final = 30  # days between two shoeings, for a growth
_BASE: Final = 100  # mm, or the least that a whole is taken as
_LOW: Final = 25  # mm, an ordinary exit
_MOST_EXIT: Final = 150
_CORNERS: Final = ((-50, 40), (50, 40), (50, -40), (-50, -40))  # mm, in order round the foot
_HOLES: Final = 6


def as_json(example: Example, book: Rulebook) -> dict[str, Any]:
    """The fitting, or where none has just these readings, the readings themselves with what holds for the foot."""
    fitting = as_fitting(example, book)
    if fitting is not None:
        return fitting
    situation = example.situation
    words = {key: getattr(situation, key) for key in ("foot", "stage", "work", "hoof_form", "stance", "hot_fitted")}
    readings = [{"quantity": each.quantity, "place": each.place, "value": each.value} for each in example.readings]
    return {"situation": words, "readings": readings}


def as_fitting(example: Example, book: Rulebook) -> dict[str, Any] | None:
    """The fitting in the contract's JSON that gives the example's readings; None where no fitting is known to."""
    situation = example.situation
    fitting: dict[str, Any] = {
        "foot": f"left_{situation.foot}",
        "stage": situation.stage,
        "work": situation.work,
        "hoof_form": situation.hoof_form,
        **({"stance": situation.stance} if situation.stance != "regular" else {}),
        "hot_fitted": situation.hot_fitted == "yes",
        "observations": {},
    }
    writer = _Writer(fitting, book, exact=example.exact)
    if not all(writer.write(reading) for reading in example.readings):
        return None
    return fitting if _gives(fitting, example, book) else None


def _gives(fitting: Mapping[str, Any], example: Example, book: Rulebook) -> bool:
    """Whether the fitting is accepted and has the example's readings."""
    try:
        read = parse_fitting(fitting, book)
        table, _ = measured(read, table_of(readings_of(read, book)), book)
    except (BadInput, KeyError):  # a book that lacks what the contract has
        return False
    return all(_same(table.get((each.quantity, each.place)), each.value) for each in example.readings)


def _same(read: Reading | None, other: float | str) -> bool:
    one = None if read is None else read.value
    if one is None or isinstance(one, str) or isinstance(other, str):
        return one == other
    return math.isclose(one, other, rel_tol=0, abs_tol=_CLOSE / 2)


class _Writer:
    """Writes readings into a fitting's fields, and for a computed one the fields that it is computed from."""

    def __init__(self, fitting: dict[str, Any], book: Rulebook, *, exact: bool) -> None:
        self._fitting = fitting
        self._book = book
        self._exact = exact
        self._guarded = {rule.quantity for rule in book.rules.values() if rule.fires == "guarded"}
        self._guarded |= {
            clause.reading or ""
            for joined in book.joined.values()
            for clause in joined.when
            if clause.fires == "guarded"
        }

    def write(self, reading: Reading) -> bool:
        """Whether the reading could be written."""
        row = row_of(reading.quantity, spot_of(reading.place))
        if row is None:
            return False
        if row.measure is None:
            item = item_at(row.field, reading.place)
            number = 0 if item is None else self._item(*item)
            self._put(row.at(reading.place, number), self._value(reading.quantity, reading.value))
            return True
        backwards = _BACKWARDS.get(reading.quantity)
        if backwards is None or isinstance(reading.value, str):
            return False
        for path, value in backwards(reading.place, reading.value, self._book).items():
            item = item_at(path, reading.place)
            self._put(path.format(nail=0 if item is None else self._item(*item)), value)
        return True

    def _value(self, quantity: str, value: float | str) -> Any:
        if isinstance(value, str):
            flag = self._book.quantities[quantity].kind == "flag"
            return value == "yes" if flag else value
        # Only a guarded limit looks at the uncertainty as well.
        state = self._exact and quantity in self._guarded
        return {"value": _plain(value), "u": 0} if state else _plain(value)

    def _item(self, path: str, item: Mapping[str, Any]) -> int:
        """The number of an item in the list at ``path``, to which it is added where it is not there."""
        *parents, last = path.split(".")
        here = self._fitting
        for step in parents:
            here = here.setdefault(step, {})
        items = here.setdefault(last, [])
        for number, other in enumerate(items):
            if item.items() <= other.items():
                return number
        items.append(dict(item))
        return len(items) - 1

    def _put(self, path: str, value: Any) -> None:
        *parents, last = path.split(".")
        here: Any = self._fitting
        for step in parents:
            here = here[int(step)] if step.isdigit() else here.setdefault(step, {})
        here[last] = value


def _plain(value: float) -> float:
    return int(value) if value == int(value) else value


Fields = Mapping[str, Any]


def _fields(quantity: str, *values: Any) -> Fields:
    """The fields that are filled in to give ``quantity``, in the table's order, with ``values``."""
    return {path: value for (_, path), value in zip(fields_of(quantity), values, strict=True)}


def _branch_difference(_place: str, value: float, _book: Rulebook) -> Fields:
    """The medial branch ends at the buttress."""
    return _fields("length", 0, _plain(value))


def _height_difference(_place: str, value: float, _book: Rulebook) -> Fields:
    return _fields("height_difference", _BASE, _plain(_BASE + value))


def _exit_ratio(_place: str, value: float, _book: Rulebook) -> Fields:
    return {**_fields("exit_height", _plain(_BASE * value)), **_fields("exit_ratio", _BASE)}


def _evenness(place: str, value: float, _book: Rulebook) -> Fields:
    """Three nails at equal steps, the middle one off: it lies two thirds of that off the line."""
    off = 1.5 * value
    least = min(_LOW, _MOST_EXIT - off)
    nails = [
        {"branch": side_of(place), "hole": hole, "exit_height": _plain(least + (off if hole == 2 else 0))}  # noqa: PLR2004
        for hole in (1, 2, 3)
    ]
    return {NAILS: nails}


def _nail_count(_place: str, value: float, _book: Rulebook) -> Fields:
    holes = [(side, hole) for hole in range(1, _HOLES + 1) for side in ("medial", "lateral")]
    return {NAILS: [{"branch": side, "hole": hole} for side, hole in holes[: math.floor(value)]]}


def _days_since_shod(_place: str, value: float, _book: Rulebook) -> Fields:
    return _dates(math.floor(value))


def _growth_rate(_place: str, value: float, _book: Rulebook) -> Fields:
    return {**_dates(_MONTH), **_fields("growth_rate", value * _MONTH / DAYS_IN_A_MONTH)}


def _dates(days: int) -> Fields:
    return _fields("days_since_shod", (_FITTED - timedelta(days=days)).isoformat(), _FITTED.isoformat())


def _flatness(_place: str, value: float, _book: Rulebook) -> Fields:
    """A saddle: no plane lies closer to its corners than one through the middle of their heights."""
    return _heights(value * (number % 2) for number in range(len(_CORNERS)))


def _tilt_fore_aft(_place: str, value: float, _book: Rulebook) -> Fields:
    return _heights(y * math.tan(math.radians(value)) for _, y in _CORNERS)


def _tilt_sideways(_place: str, value: float, _book: Rulebook) -> Fields:
    return _heights(x * math.tan(math.radians(value)) for x, _ in _CORNERS)


def _heights(at_corners: Iterable[float]) -> Fields:
    # Without uncertainty, so that none of it is taken for noise.
    return _fields("flatness", [[x, y, height, 0.0] for (x, y), height in zip(_CORNERS, at_corners, strict=True)])


def _bare_arc(place: str, value: float, book: Rulebook) -> Fields:
    """One bare run, its middle as near to the place's own middle as the ends of the wall allow."""
    end = book.parameters["place_heel"].high or 0.0
    kind = place.rsplit("_", maxsplit=1)[-1]
    own = book.parameters[f"place_{kind}"]
    aim = (
        0.0
        if kind == "toe"
        else ((own.low or 0.0) + (own.high or 0.0)) / 2 * (1 if side_of(place) == "lateral" else -1)
    )
    middle = max(value / 2 - end, min(end - value / 2, aim))
    runs = [[-end, middle - value / 2], [middle + value / 2, end]]
    return _fields("bare_arc", [run for run in runs if run[0] < run[1]])


_BACKWARDS: Final[Mapping[str, Callable[[str, float, Rulebook], Fields]]] = {
    "branch_difference": _branch_difference,
    "height_difference": _height_difference,
    "exit_ratio": _exit_ratio,
    "evenness": _evenness,
    "nail_count": _nail_count,
    "days_since_shod": _days_since_shod,
    "growth_rate": _growth_rate,
    "flatness": _flatness,
    "tilt_fore_aft": _tilt_fore_aft,
    "tilt_sideways": _tilt_sideways,
    "bare_arc": _bare_arc,
}
"""For a computed quantity the fields that give it; what came of them is checked, so they need not always do."""
