"""Words of the eye, each as a reading of its own: judged as a word, and never made a number."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import words_sent
from fitcheck.measure.results import Readings
from rules import Reading, Rulebook

__all__ = ["by_eye"]


def by_eye(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """The word that stands in the place of a number, where ``book`` judges words of that number as words."""
    for quantity, place, word in words_sent(fitting):
        seen = book.eye_quantities.get(quantity, {}).get(place if not place.startswith("nail:") else "nail")
        if seen is not None and word in book.quantities[seen].vocabulary:
            yield Reading(seen, place, word)
