"""What an analysis of a rulebook is told of the observations there are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rules.model import Context

__all__ = ["Feed", "Feeds"]


@dataclass(frozen=True, slots=True)
class Feed:
    """How one quantity comes to be read at one place.

    ``given``: a client can state it; otherwise it is computed.  ``unit`` of a number, in which it is reckoned with;
    ``words`` that can be given otherwise.  ``where`` it can be given at all, anywhere when None.
    """

    given: bool
    unit: str | None = None
    words: tuple[str, ...] = ()
    where: tuple[Context, ...] | None = None


Feeds = Mapping[tuple[str, str], Feed]
"""What can be read: by quantity and place, ``nail`` standing for every nail."""
