"""From a fitting to readings: what was observed, in the rulebook's quantities, places, units and words."""

from __future__ import annotations

import re
from collections.abc import Collection, Container, Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple

from fitcheck.fitting.input_value import InputValue, measured_value, only_a_word
from fitcheck.fitting.models import Fitting, Nail
from fitcheck.fitting.observables import ROWS
from fitcheck.fitting.own_readings import own_path
from fitcheck.fitting.row import Row, list_of
from rules import Reading, Rulebook, Situation, Table
from rules.situation import side_of, spot_of

__all__ = [
    "each_sent",
    "fields_sent",
    "nail_place",
    "readings_as_sent",
    "readings_of",
    "situation_of",
    "sources_of",
    "stated_in",
    "words_sent",
]

Key = tuple[str, str]
"""A reading, by quantity and place."""

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
    """One part of a fitting: what it is called in the part that it lies in, and each field in it that gives a reading.

    ``within``: that part's number, the whole fitting being 0.  A field is told by its key, its quantity and, where the
    part is no list, the reading's own key.  Of a list each item has its own place; a mapping has its places as keys,
    and one quantity.
    """

    within: int
    name: str
    fields: tuple[tuple[str, str, Key], ...]
    says_none: bool
    """Whether, when it is an empty list, the toe has no clip."""


def _parts() -> tuple[_Part, ...]:
    """The parts in the order of the table's rows, each after the one that it lies in."""
    found: dict[tuple[str, ...], dict[tuple[str, str], tuple[str, str, Key]]] = {}
    for row in ROWS:
        for place in row.places if row.measure is None else ():
            path, _, key = row.field.replace("{side}", str(side_of(place))).rpartition(".")
            *above, name = _IN_A_LIST.sub("", path).split(".")
            for depth in range(len(above)):
                found.setdefault(tuple(above[: depth + 1]), {})
            fields = found.setdefault((*above, name), {})
            fields.setdefault((key, row.quantity), (key, row.quantity, (row.quantity, place)))
    number = {path: at for at, path in enumerate(found, 1)}
    return tuple(
        _Part(number.get(path[:-1], 0), path[-1], tuple(fields.values()), path == CLIPS)
        for path, fields in found.items()
    )


_PARTS: Final = _parts()


def _rows_at() -> dict[tuple[str, str], list[Row]]:
    found: dict[tuple[str, str], list[Row]] = {}
    for row in ROWS:
        for place in row.places:
            found.setdefault((row.quantity, place), []).append(row)
    return found


_ROWS_AT: Final = _rows_at()
"""The rows of each quantity at each place."""


def each_sent(fitting: Fitting) -> Iterator[tuple[Key, Any]]:
    """The key of the reading, and what was sent, for every field that was and gives one."""
    parts: list[Any] = [fitting]
    for within, name, fields, says_none in _PARTS:
        holder = parts[within]
        part = None if holder is None else vars(holder)[name]
        parts.append(part)
        if part is None or not fields:
            continue
        if isinstance(part, dict):
            quantity = fields[0][1]
            yield from (((quantity, place), sent) for place, sent in part.items() if sent is not None)
        elif isinstance(part, list):
            yield from _sent_of_items(part, fields)
            if says_none and not part:
                yield ("clip", "toe"), "none"
        else:
            inside = vars(part)
            for key, _, reading in fields:
                sent = inside[key]
                if sent is not None:
                    yield reading, sent
    yield from (((quantity, place), sent) for _, quantity, place, sent in _own_sent(fitting))


def _own_sent(fitting: Fitting) -> Iterator[tuple[str, str, str, Any]]:
    """Path, quantity and place of each reading of the book's own, and what was sent."""
    observations = fitting.observations
    for quantity, places in (observations.own or {}).items():
        for place, sent in places.items():
            yield own_path(quantity, place), quantity, place, sent
    for number, nail in enumerate(observations.nails or ()):
        for quantity, sent in (nail.own or {}).items():
            yield own_path(quantity, "nail").format(nail=number), quantity, nail.place, sent


def _sent_of_items(items: Iterable[Any], fields: Iterable[tuple[str, str, Key]]) -> Iterator[tuple[Key, Any]]:
    for item in items:
        place, inside = item.place, vars(item)
        for key, quantity, _ in fields:
            sent = inside[key]
            if sent is not None:
                yield (quantity, place), sent


def fields_sent(fitting: Fitting, among: Collection[Key]) -> Iterator[tuple[str, str, str]]:
    """The path, quantity and place of each field that was sent for one of ``among``."""
    quantities = {quantity for quantity, _ in among}
    for row in ROWS:
        if row.measure is not None or row.quantity not in quantities:
            continue
        for place in row.places:
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
    yield from (each[:3] for each in _own_sent(fitting) if each[1:3] in among)


def sources_of(fitting: Fitting, quantity: str, place: str) -> Iterator[str]:
    """The path of each field in ``fitting`` from which the reading is taken, or first of all computed."""
    yield from (path for path, *key, _ in _own_sent(fitting) if key == [quantity, place])
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
    return list(stated_in(fitting, book)[0].values())


def stated_in(fitting: Fitting, book: Rulebook) -> tuple[Table, list[Key]]:
    """What :func:`readings_of` says by quantity and place, and the keys of what was sent and is no reading."""
    known_to: _Known | None = book.derived.get(_KNOWN)
    if known_to is None:
        known_to = book.derived[_KNOWN] = _Known(book)
    readings: Table = {}
    beside: list[Key] = []
    for key, sent in each_sent(fitting):
        known = known_to[key]
        if known is None:
            beside.append(key)
            continue
        if key in readings:
            continue
        quantity, place = key
        if not isinstance(sent, InputValue):
            readings[key] = Reading(quantity, place, _FLAGS.get(sent, sent))
        elif sent.value is None or sent.u is not None or sent.method is not None or sent.unit != known.unit:
            if only_a_word(sent, quantity, book):
                beside.append(key)
            else:
                readings[key] = Reading(quantity, place, *measured_value(sent, quantity, book))
        else:
            # As most readings are given: a bare number in the quantity's own unit.
            readings[key] = Reading(quantity, place, sent.value, known.u)
    return readings, beside


_KNOWN: Final = "known readings"


class _Usual(NamedTuple):
    """The unit of a quantity and the standard uncertainty that its readings have where none is said."""

    unit: str | None
    u: float


class _Known(dict[Key, _Usual | None]):
    """What the book says of each reading, worked out when one is first asked for; None of one that it does not know."""

    def __init__(self, book: Rulebook) -> None:
        self._units, self._usual_u, self._spots = book.units, book.usual_u, book.spots_of

    def __missing__(self, key: Key) -> _Usual | None:
        quantity, place = key
        is_known = spot_of(place) in self._spots.get(quantity, ())
        self[key] = known = _Usual(self._units.get(quantity), self._usual_u.get(quantity, 0.0)) if is_known else None
        return known


def words_sent(fitting: Fitting, quantities: Container[str]) -> Iterator[tuple[str, str, str]]:
    """Quantity, place and word of every word of the eye that stands for a number of one of ``quantities``."""
    for (quantity, place), sent in each_sent(fitting):
        if isinstance(sent, InputValue) and sent.word is not None and quantity in quantities:
            yield quantity, place, sent.word


def readings_as_sent(fitting: Fitting) -> dict[Key, InputValue]:
    """Every number that the fitting states, as it was given, by quantity and place."""
    return {key: sent for key, sent in each_sent(fitting) if isinstance(sent, InputValue)}
