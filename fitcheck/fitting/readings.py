"""From a fitting to readings: what was observed, in the rulebook's quantities, places, units and words."""

from __future__ import annotations

import re
from collections.abc import Container, Iterator, Mapping
from typing import Any, Final, NamedTuple

from fitcheck.fitting.input_value import InputValue, measured_value, only_a_word
from fitcheck.fitting.models import Fitting, Nail
from fitcheck.fitting.observables import ROWS
from fitcheck.fitting.row import Row, list_of
from rules import Reading, Rulebook, Situation
from rules.situation import side_of, spot_of

__all__ = [
    "each_sent",
    "fields_sent",
    "nail_place",
    "readings_as_sent",
    "readings_of",
    "sent_beside",
    "situation_of",
    "sources_of",
    "words_sent",
]

_IN_A_LIST: Final = re.compile(r"\.\{[a-z]+\}$")
CLIPS: Final = ("observations", "toe_fit", "clips")
"""An empty list of clips says that the toe has none."""
_FLAGS: Final[Mapping[bool | str, str]] = {True: "yes", False: "no"}


def situation_of(fitting: Fitting, book: Rulebook) -> Situation:
    """What holds for the whole foot, in the words of ``book``.

    A fitting that does not say is taken as hot: then the heat's limits apply to whatever was observed, and a scorch
    that was not observed is missing.  A book that takes a stance for a form of the hoof is told the stance as one,
    beside any form but the regular one the form alone.
    """
    hot = fitting.hot_fitted is not False
    hoof_form, stance = fitting.form_and_stance
    if stance not in book.judges.stances:
        hoof_form, stance = (stance if hoof_form == "regular" else hoof_form), "regular"
    return Situation(
        foot=fitting.pair,
        stage=fitting.stage,
        work=fitting.work,
        hoof_form=hoof_form,
        hot_fitted="yes" if hot else "no",
        stance=stance,
    )


def nail_place(nail: Nail) -> str:
    """The place of one nail, such as ``nail:medial:2``."""
    return nail.place


class _Part(NamedTuple):
    """One part of a fitting, by the path to it, and the key, quantity and place of each field that gives a reading.

    Of a list each item has its own place; a mapping has its places as keys, and one quantity.
    """

    path: tuple[str, ...]
    fields: tuple[tuple[str, str, str], ...]


def _parts() -> tuple[_Part, ...]:
    """The parts in the order of the table's rows."""
    found: dict[str, dict[tuple[str, str], tuple[str, str, str]]] = {}
    for row in ROWS:
        for place in row.places if row.measure is None else ():
            path, _, key = row.field.replace("{side}", str(side_of(place))).rpartition(".")
            found.setdefault(_IN_A_LIST.sub("", path), {}).setdefault((key, row.quantity), (key, row.quantity, place))
    return tuple(_Part(tuple(path.split(".")), tuple(fields.values())) for path, fields in found.items())


_PARTS: Final = _parts()


def _rows_at() -> dict[tuple[str, str], list[Row]]:
    found: dict[tuple[str, str], list[Row]] = {}
    for row in ROWS:
        for place in row.places:
            found.setdefault((row.quantity, place), []).append(row)
    return found


_ROWS_AT: Final = _rows_at()
"""The rows of each quantity at each place."""


def each_sent(fitting: Fitting) -> Iterator[tuple[str, str, Any]]:
    """Quantity, place and what was sent (None: nothing) for every field that gives a reading."""
    for path, fields in _PARTS:
        part = _at(fitting, path)
        if isinstance(part, dict):
            for place, sent in part.items():
                yield fields[0][1], place, sent
        elif isinstance(part, list):
            for item in part:
                place, inside = item.place, vars(item)
                for key, quantity, _ in fields:
                    yield quantity, place, inside[key]
            if not part and path == CLIPS:
                yield "clip", "toe", "none"
        elif part is not None:
            inside = vars(part)
            for key, quantity, place in fields:
                yield quantity, place, inside[key]


def sent_beside(fitting: Fitting, table: Container[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Quantity and place of what was sent and is no reading in ``table``: the rulebook has no use for it."""
    for quantity, place, sent in each_sent(fitting):
        if sent is not None and (quantity, place) not in table:
            yield quantity, place


def fields_sent(fitting: Fitting, among: Container[tuple[str, str]]) -> Iterator[tuple[str, str, str]]:
    """The path, quantity and place of each field that was sent for one of ``among``."""
    for row in ROWS:
        for place in row.places if row.measure is None else ():
            path = list_of(row.field)
            if path is None:
                paths = [(row.at(place), place)]
            else:
                listed = _at(fitting, tuple(path.split("."))) or ()
                paths = [
                    (row.at(each.place, number), each.place)
                    for number, each in enumerate(listed)
                    if place in {"nail", each.place}
                ]
            for path, where in paths:
                if (row.quantity, where) in among and _at(fitting, tuple(path.split("."))) is not None:
                    yield path, row.quantity, where


def sources_of(fitting: Fitting, quantity: str, place: str) -> Iterator[str]:
    """The path of each field in ``fitting`` from which the reading is taken, or first of all computed."""
    for row in _ROWS_AT.get((quantity, spot_of(place)), ()):
        listed = list_of(row.field)
        number = 0
        if listed is not None:
            items = _at(fitting, tuple(listed.split("."))) or ()
            number = next((at for at, item in enumerate(items) if item.place == place), -1)
        path = row.at(place, number)
        if number >= 0 and _at(fitting, tuple(path.split("."))) is not None:
            yield path


def _at(fitting: Fitting, path: tuple[str, ...]) -> Any:
    here: Any = fitting
    for step in path:
        if isinstance(here, list):
            here = here[int(step)]
        else:
            here = here.get(step) if isinstance(here, dict) else getattr(here, step)
        if here is None:
            break
    return here


def readings_of(fitting: Fitting, book: Rulebook) -> list[Reading]:
    """Every reading that the fitting states and ``book`` knows, with its standard uncertainty; nothing is computed.

    A word of the eye for which the book has no number is none.  Where two fields give the same, it is read once.
    """
    units, usual_u, spots = book.units, book.usual_u, book.spots_of
    readings: dict[tuple[str, str], Reading] = {}
    for quantity, place, sent in each_sent(fitting):
        if sent is None or (spot_of(place) not in spots.get(quantity, ()) or (quantity, place) in readings):
            continue
        if not isinstance(sent, InputValue):
            read = Reading(quantity, place, _FLAGS.get(sent, sent))
        elif sent.value is None or sent.u is not None or sent.method is not None or sent.unit != units.get(quantity):
            if only_a_word(sent, quantity, book):
                continue
            read = Reading(quantity, place, *measured_value(sent, quantity, book))
        else:
            # As most readings are given: a bare number in the quantity's own unit.
            read = Reading(quantity, place, sent.value, usual_u[quantity])
        readings[quantity, place] = read
    return list(readings.values())


def words_sent(fitting: Fitting) -> Iterator[tuple[str, str, str]]:
    """Quantity, place and word of every word of the eye that stands for a number."""
    for quantity, place, sent in each_sent(fitting):
        if isinstance(sent, InputValue) and sent.word is not None:
            yield quantity, place, sent.word


def readings_as_sent(fitting: Fitting) -> dict[tuple[str, str], InputValue]:
    """Every number that the fitting states, as it was given, by quantity and place."""
    return {(quantity, place): sent for quantity, place, sent in each_sent(fitting) if isinstance(sent, InputValue)}
