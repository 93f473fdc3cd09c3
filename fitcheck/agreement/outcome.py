"""What a calculation gives: an interval, or the reason why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from fitcheck.text.catalogue import ENGLISH, Messages, messages_in

__all__ = ["LEVEL", "Interval", "NotComputed"]

LEVEL: Final = 0.95
"""How often an interval holds the true value: the custom of nearly every published table, no more than that."""


@dataclass(frozen=True, slots=True)
class Interval:
    """From ``low`` to ``high``; in about 95 of 100 such samples it holds the true value."""

    low: float
    high: float

    def overlaps(self, other: Interval) -> bool:
        """Whether some value lies in both."""
        return self.low <= other.high and other.low <= self.high


@dataclass(frozen=True, slots=True)
class NotComputed:
    """Stands where a figure would say nothing."""

    reason: str
    """The name of a message under ``agreement.why``."""

    @property
    def why(self) -> str:
        """The reason in English, as the end of a sentence that begins with "because"."""
        return self.why_in(messages_in(ENGLISH))

    def why_in(self, messages: Messages) -> str:
        """The reason in the language of ``messages``."""
        return messages.say(f"agreement.why.{self.reason}")
