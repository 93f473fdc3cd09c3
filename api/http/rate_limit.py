"""How many requests one key, or one client address, may send: a token bucket each, in bounded memory."""

from __future__ import annotations

import ipaddress
import math
import time
from collections import OrderedDict
from collections.abc import Callable
from typing import Final

__all__ = ["RateLimit", "client_of"]

_MOST: Final = 10_000
"""Buckets kept; beyond that the one that was used longest ago is given up, as if it had rested."""
_SITE: Final = 64
"""Bits of an IPv6 address that name one site; the rest its owner picks freely (RFC 4291, 2.5.4)."""


class RateLimit:
    """A bucket for each name: ``burst`` requests at once, refilled at ``rate`` a second; a rate of 0 sets no limit.

    Each server process counts for itself.
    """

    def __init__(self, rate: float, burst: int, clock: Callable[[], float] = time.monotonic, most: int = _MOST) -> None:
        self._rate = rate
        self._burst = float(burst)
        self._clock = clock
        self._most = most
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()
        """For each name how many requests were left at which time."""

    def __len__(self) -> int:
        return len(self._buckets)

    def take(self, name: str) -> int:
        """Take one request from the bucket of ``name``: 0, or the whole seconds until there is one again.

        >>> limit = RateLimit(rate=0.5, burst=2, clock=lambda: 0.0)
        >>> [limit.take("yard"), limit.take("yard"), limit.take("yard")]
        [0, 0, 2]
        """
        if not self._rate:
            return 0
        now = self._clock()
        left, then = self._buckets.pop(name, (self._burst, now))
        left = min(self._burst, left + (now - then) * self._rate)
        taken = left >= 1
        self._buckets[name] = (left - taken, now)
        if len(self._buckets) > self._most:
            self._buckets.popitem(last=False)
        return 0 if taken else math.ceil((1 - left) / self._rate)


def client_of(address: str) -> str:
    """The client that an IP address stands for: itself, or for IPv6 its site.

    >>> client_of("203.0.113.7"), client_of("2001:db8:1:2:3:4:5:6"), client_of("::ffff:203.0.113.7")
    ('203.0.113.7', '2001:db8:1:2::/64', '203.0.113.7')
    """
    if ":" not in address:
        return address
    try:
        parsed = ipaddress.IPv6Address(address)
    except ValueError:
        return address
    if parsed.ipv4_mapped:
        return str(parsed.ipv4_mapped)
    return str(ipaddress.IPv6Network((int(parsed), _SITE), strict=False))
