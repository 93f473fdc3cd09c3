"""Words of the eye, each as a reading of its own: judged as a word, and never made a number."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import words_sent
from fitcheck.measure.results import Readings
from rules import Reading, Rulebook
from rules.situation import spot_of

__all__ = ["by_eye"]


def by_eye(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """The word that stands in the place of a number, where ``book`` judges words of that number as words."""
    known = book.eye_quantities
    if not known:
        return
    for quantity, place, word in words_sent(fitting, known):
        seen = known[quantity].get(spot_of(place))
        if seen is not None and word in book.quantities[seen].vocabulary:
            yield Reading(seen, place, word)
