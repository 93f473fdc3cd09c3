"""A reading that was given beside one that is computed: how far the two are apart, and whether they decide alike."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from fitcheck.text.catalogue import messages_of
from rules import Reading, Rulebook

__all__ = ["DECIDING", "QUANTITY", "Double", "disagreements"]

QUANTITY = "disagreement"
DECIDING = "deciding_disagreement"
"""A disagreement that would change the decision; a book that does not know it lets the computed reading stand."""


class Double(NamedTuple):
    """One quantity at one place that was given and is computed as well."""

    given: Reading
    computed: Reading


def disagreements(
    doubles: Iterable[Double], deciding: Collection[tuple[str, str]], book: Rulebook
) -> Iterator[Reading]:
    """For each place the largest difference of two numbers, and the largest of those that decide differently.

    In joint standard uncertainties, sqrt(u1^2 + u2^2): the two are independent.  A difference beyond the
    quantity's range in the rulebook says no more than its end.  ``deciding``: quantity and place of the doubles of
    which either would decide differently.
    """
    worst: dict[tuple[str, str], Reading] = {}
    messages = messages_of(book)
    for given, computed in doubles:
        if isinstance(given.value, str) or isinstance(computed.value, str):
            continue
        name = DECIDING if (given.quantity, given.place) in deciding else QUANTITY
        _, most = book.quantities[name].range or (0.0, math.inf)
        apart, joint = abs(given.value - computed.value), math.hypot(given.u, computed.u)
        size = min(most, apart / joint) if joint > 0 else (most if apart > 0 else 0.0)
        key = (name, given.place)
        if key not in worst or size > float(worst[key].value):
            words = messages.say(
                "where.disagreement",
                quantity=messages.named("quantity", given.quantity),
                read=messages.number(f"{given.value:.4g}"),
                computed=messages.number(f"{computed.value:.4g}"),
            )
            worst[key] = Reading(name, given.place, size, 0.0, words, given.quantity)
    yield from worst.values()
