"""The rulebook's texts with their placeholders filled: numbers with units, places by their names."""

from __future__ import annotations

from typing import Final

from fitcheck.text.catalogue import ENGLISH, Messages, messages_in, messages_of
from rules import Rulebook
from rules.situation import side_of

__all__ = ["amount_of", "digits_of", "figure", "lacking_title", "place_title", "places_title", "shown", "side_title"]

_DECIMALS: Final = {"mm": 1, "s": 0, "deg": 0, "degC": 0, "1": 2, "d": 0, "mm/month": 1}


def amount_of(value: float, unit: str) -> float:
    """``value`` rounded as far as a farrier can work to in ``unit``."""
    return round(value, _DECIMALS[unit]) + 0.0  # + 0.0 turns negative zero into zero


def digits_of(value: float, unit: str, language: str = ENGLISH) -> str:
    """A number as it is read out, rounded for its unit, without idle noughts and without the unit."""
    digits = f"{amount_of(value, unit):.{_DECIMALS[unit]}f}"
    if "." in digits:
        digits = digits.rstrip("0").rstrip(".")
    return messages_in(language).number(digits)


def shown(value: float, unit: str, language: str = ENGLISH) -> str:
    """A number as it is read out, with the unit.

    >>> shown(2.0, "mm"), shown(0.944, "1"), shown(42.0, "d"), shown(2.5, "mm", "de")
    ('2 mm', '0.94', '42 days', '2,5 mm')
    """
    return _with_unit(digits_of(value, unit, language), unit, messages_in(language))


def figure(value: float, unit: str, language: str = ENGLISH) -> str:
    """A number as the rulebook has it, with the unit and not rounded as readings are."""
    messages = messages_in(language)
    return _with_unit(messages.number(f"{value:g}"), unit, messages)


def _with_unit(digits: str, unit: str, messages: Messages) -> str:
    return messages.counted("unit.d", digits) if unit == "d" else messages.say(f"unit.{unit}", count=digits)


def place_title(place: str, book: Rulebook) -> str:
    """A place as it is called in a sentence, such as 'the medial heel' or 'medial nail 2'."""
    if place.startswith("nail:"):
        _, side, hole = place.split(":")
        return book.places["nail"].title.format(side=messages_of(book).named("nail_side", side), hole=hole)
    return book.places[place].title


def places_title(places: list[str], book: Rulebook) -> str:
    """Several places in one phrase, each once, in the order given.

    A branch's side alone cannot stand for several places, so each is named in full.
    """
    return messages_of(book).listed(place_title(place, book) for place in dict.fromkeys(places))


def lacking_title(line: str, book: Rulebook) -> str:
    """What was not assessed, from its name in the JSON; as that name where the language has none for the criterion."""
    messages = messages_of(book)
    what, _, place = line.partition("@")
    criterion, _, quantity = what.partition(".")
    title = messages.texts.get(f"criterion.{criterion}")
    if title is None:
        return line
    named = f"{title}: {messages.named('quantity', quantity)}" if quantity else title
    return f"{named}, {place_title(place, book)}" if place else named


def side_title(place: str, messages: Messages) -> str:
    """The branch's side for a sentence, in German the stem of the word; empty where there is none."""
    side = side_of(place)
    return "" if side is None else messages.named("side", side)
