"""The feet that wait for an assessor: which are asked for, who marks, and where to go on."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Final, NamedTuple

from pydantic import Field as Documented
from starlette.requests import Request

from api.desk.forms import Links
from api.http.auth import key_of, require_own_name
from api.parameters.language import LanguageQuery
from api.parameters.query import Days
from fitcheck.fitting.identity import Identifier
from fitcheck.records import Record, RecordFilter
from fitcheck.stored.by_hand import Waiting, day_of, order_of
from fitcheck.text.catalogue import Messages
from fitcheck.view import foot_title

__all__ = [
    "QUEUED",
    "FootQuery",
    "Place",
    "QueueQuery",
    "QueueRow",
    "foot_link",
    "marker_of",
    "onward",
    "place_of",
    "row_of",
]

QUEUED: Final = ("horse", "person", "visit")
"""What the queue may be narrowed down to, besides days."""


class QueueQuery(Days, LanguageQuery):
    """Which feet are to be marked: without a day, those of today (UTC)."""

    horse: Identifier | None = None
    """The horse."""
    person: Identifier | None = None
    """Who fitted the shoe."""
    visit: Identifier | None = None
    """The visit."""
    by: Identifier | None = None
    """Who marks, where the service has no access keys; with keys it is the key's person."""

    @property
    def days(self) -> tuple[str | None, str | None]:
        """The first and the last day: today where none is asked for."""
        today = datetime.now(UTC).date().isoformat()
        asked = super().days
        return (today, today) if asked == (None, None) else asked

    @property
    def filters(self) -> dict[str, str | None]:
        """The same as parameters of an address."""
        first, last = self.days
        return {"from": first, "to": last} | {name: getattr(self, name) for name in (*QUEUED, "by")}

    @property
    def record_filter(self) -> RecordFilter:
        """The same as the store takes it."""
        first, last = self.days
        named = {name: getattr(self, name) for name in QUEUED}
        return RecordFilter(**named, kind="assessment", first_day=first, last_day=last, superseded=False)


class FootQuery(QueueQuery):
    """One foot, and the queue in which it stands."""

    assessment: Annotated[Identifier | None, Documented(description="The foot's assessment; else the first one.")] = (
        None
    )


def marker_of(request: Request, query: QueueQuery) -> str | None:
    """Who marks: the person of the key, or who is named where there are no keys.

    Raises ProblemError of kind not-in-own-name where the key is a device's.
    """
    key = key_of(request.scope)
    if key is None:
        return query.by
    require_own_name(request.scope, key.person or "", "by")
    return key.person


class QueueRow(NamedTuple):
    """A foot as the queue lists it: nothing of what the tool says."""

    foot: str
    horse: str
    visit: str
    person: str
    day: str
    href: str


def row_of(record: Record, links: Links, query: QueueQuery, messages: Messages) -> QueueRow:
    """The row of one foot."""
    foot = foot_title(record.foot, record.stage, messages) if record.foot and record.stage else ""
    href = foot_link(links, record, query)
    return QueueRow(foot, record.horse or "", record.visit or "", record.person or "", day_of(record), href)


class Place(NamedTuple):
    """Where a foot stands in the queue."""

    left: int
    next: Record | None
    """The first behind it that waits, or else the first that does."""
    before: Record | None


def place_of(waiting: Waiting, here: Record) -> Place:
    """Where ``here`` stands among those that wait."""
    others = [each for each in waiting.records if each.id != here.id]
    following = [each for each in others if order_of(each) > order_of(here)] or others
    ahead = [each for each in others if order_of(each) < order_of(here)]
    return Place(len(waiting.records), following[0] if following else None, ahead[-1] if ahead else None)


def foot_link(links: Links, record: Record, query: QueueQuery) -> str:
    """The page of that foot within this queue."""
    return links.page("foot", assessment=record.id, **query.filters)


def onward(links: Links, following: Record | None, query: QueueQuery) -> str:
    """The page of the foot to go on to, or of the queue where nothing waits."""
    return links.page("queue", **query.filters) if following is None else foot_link(links, following, query)
