"""A reading that was given beside one that is computed: how far the two are apart."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitcheck.measure.results import Readings
from fitcheck.text.catalogue import messages_of
from rules import Reading, Rulebook

__all__ = ["QUANTITY", "disagreements"]

QUANTITY = "disagreement"


def disagreements(stated: Readings, table: Readings, book: Rulebook) -> Iterator[Reading]:
    """For each place the largest difference between a given reading and what was computed in its stead.

    In joint standard uncertainties, sqrt(u1^2 + u2^2): the two are independent.  A difference beyond the
    quantity's range in the rulebook says no more than its end.
    """
    _, most = book.quantities[QUANTITY].range or (0.0, math.inf)
    worst: dict[str, Reading] = {}
    messages = messages_of(book)
    for (quantity, place), read in stated.items():
        now = table[quantity, place]
        if now is read or isinstance(read.value, str) or isinstance(now.value, str):
            continue
        apart = abs(read.value - now.value)
        joint = math.hypot(read.u, now.u)
        size = min(most, apart / joint) if joint > 0 else (most if apart > 0 else 0.0)
        if place not in worst or size > float(worst[place].value):
            words = messages.say(
                "where.disagreement",
                quantity=messages.named("quantity", quantity),
                read=messages.number(f"{read.value:.4g}"),
                computed=messages.number(f"{now.value:.4g}"),
            )
            worst[place] = Reading(QUANTITY, place, size, 0.0, words, quantity)
    yield from worst.values()
