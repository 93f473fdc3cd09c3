"""What criteria, quantities and places are called, also such as the rulebook at hand does not have.

A drawing may show what another rulebook judged; what that one had of its own then goes by its id.
"""

from __future__ import annotations

from fitcheck.text.format import place_title
from rules import Rulebook

__all__ = ["criterion_named", "place_named", "quantity_named"]


def criterion_named(criterion: str, book: Rulebook) -> str:
    """The criterion's title."""
    known = book.criteria.get(criterion)
    return _plain(criterion) if known is None else known.title


def quantity_named(quantity: str, book: Rulebook) -> str:
    """The quantity's title, without what explains it."""
    known = book.quantities.get(quantity)
    title = _plain(quantity) if known is None else known.title
    for mark in ";:,":
        title = title.partition(mark)[0]
    return title


def place_named(place: str, book: Rulebook) -> str:
    """The place as it is called in a sentence."""
    known = place in book.places or place.startswith("nail:")
    return place_title(place, book) if known else _plain(place)


def _plain(name: str) -> str:
    return name.replace("_", " ")
