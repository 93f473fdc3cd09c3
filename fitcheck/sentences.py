"""The rulebook's texts with their placeholders filled: numbers with units, places by their names."""

from __future__ import annotations

from typing import Final

from rules import Rulebook
from rules.situation import side_of

__all__ = ["amount_of", "place_title", "places_title", "shown", "side_title"]

_SUFFIX: Final = {"mm": " mm", "s": " s", "deg": "°", "degC": " °C", "1": "", "d": " days", "mm/month": " mm a month"}
_DECIMALS: Final = {"mm": 1, "s": 0, "deg": 0, "degC": 0, "1": 2, "d": 0, "mm/month": 1}


def amount_of(value: float, unit: str) -> float:
    """``value`` rounded as far as a farrier can work to in ``unit``."""
    return round(value, _DECIMALS[unit]) + 0.0  # + 0.0 turns a negative nought into nought


def shown(value: float, unit: str) -> str:
    """A number as it is read out: rounded for its unit, without idle noughts, with the unit.

    >>> shown(2.0, "mm"), shown(0.944, "1"), shown(42.0, "d")
    ('2 mm', '0.94', '42 days')
    """
    number = f"{amount_of(value, unit):.{_DECIMALS[unit]}f}"
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return "1 day" if (number, unit) == ("1", "d") else f"{number}{_SUFFIX[unit]}"


def place_title(place: str, book: Rulebook) -> str:
    """A place as it is called in a sentence, such as 'the medial heel' or 'medial nail 2'."""
    if place.startswith("nail:"):
        _, side, hole = place.split(":")
        return book.places["nail"].title.format(side=side, hole=hole)
    return book.places[place].title


def places_title(places: list[str], book: Rulebook) -> str:
    """Several places in one phrase, each once, in the order given.

    A branch's side alone cannot stand for several places, so each is named in full.
    """
    *before, last = [place_title(place, book) for place in dict.fromkeys(places)] or [""]
    return f"{', '.join(before)} and {last}" if before else last


def side_title(place: str) -> str:
    """The branch's side for a sentence; empty where there is none."""
    return side_of(place) or ""
