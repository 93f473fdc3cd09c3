"""What will go: an operation says so in the document and with every answer, long before it does.

RFC 9745 (Deprecation), RFC 8594 (Sunset) and RFC 8288 (Link, rel=deprecation). docs/versions.md has the promise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from email.utils import format_datetime
from typing import Any, Final

__all__ = ["HEADERS", "NOTICE", "Deprecation"]

NOTICE: Final = timedelta(days=180)
"""How long at least what is deprecated goes on as it was."""
HEADERS: Final[Mapping[str, Any]] = {
    "Deprecation": {"description": "Since when it is deprecated (RFC 9745).", "schema": {"type": "string"}},
    "Sunset": {"description": "When it goes, at the earliest (RFC 8594).", "schema": {"type": "string"}},
}


@dataclass(frozen=True, slots=True)
class Deprecation:
    """An operation is deprecated ``since`` a day, goes on the day of ``sunset``, and ``instead`` is what to use."""

    since: date
    sunset: date
    instead: str

    def __post_init__(self) -> None:
        """Raise ValueError where the notice is too short."""
        if self.sunset - self.since < NOTICE:
            raise ValueError(f"what is deprecated stays for {NOTICE.days} days at least")

    @property
    def headers(self) -> dict[str, str]:
        """The headers of every answer.

        >>> Deprecation(date(2026, 3, 4), date(2026, 12, 1), "/v2/fits").headers["deprecation"]
        '@1772582400'
        """
        since, sunset = (datetime(day.year, day.month, day.day, tzinfo=UTC) for day in (self.since, self.sunset))
        return {
            "deprecation": f"@{since.timestamp():.0f}",
            "sunset": format_datetime(sunset, usegmt=True),
            "link": f'<{self.instead}>; rel="successor-version"',
        }
