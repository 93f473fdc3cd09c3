"""Which of the kept assessments are asked for, and how far a client has got with them."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, get_args
from urllib.parse import urlencode

from starlette.requests import Request

from api.assessing import address_of
from api.parameters.query import day, identifier, known_only, one_of, refuse, whole
from api.responses.assessments import StoredAssessment, StoredAssessments, StoredRulebook
from fitcheck.assessment.models import Decision
from fitcheck.fitting.models import FittedFoot
from fitcheck.records import Record, RecordFilter, Store

__all__ = ["DEFAULT_LIMIT", "LIST", "MOST_LISTED", "ORDERS", "ListQuery", "page_of"]

LIST: Final = "/v1/assessments"
ORDERS: Final = ("newest", "oldest")
DEFAULT_LIMIT: Final = 50
MOST_LISTED: Final = 200
_FILTERS: Final = ("person", "assessor", "horse", "visit", "foot", "decision", "from", "to")
_NUMBER_BYTES: Final = 8
_CHECK_BYTES: Final = 8
_LAST_NUMBER: Final = 2**63 - 1


@dataclass(frozen=True, slots=True)
class ListQuery:
    """One page of assessments, as a query asks for it."""

    filters: tuple[tuple[str, str], ...]
    """Those that are given, by name, in a fixed order."""
    record_filter: RecordFilter
    order: str
    limit: int
    after: int | None
    """The number of the last one on the page before."""

    @classmethod
    def by(cls, request: Request) -> ListQuery:
        """What the query of ``request`` asks for. Raises ProblemError."""
        known_only(request, (*_FILTERS, "order", "limit", "after"))
        foot = one_of(request, "foot", get_args(FittedFoot))
        decision = one_of(request, "decision", get_args(Decision))
        since, last = day(request, "from"), day(request, "to")
        if since is not None and last is not None and last < since:
            refuse("to", last.isoformat(), f"{since.isoformat()} or later", "The last day lies before the first one.")
        order = one_of(request, "order", ORDERS) or ORDERS[0]
        filters = tuple((name, request.query_params[name]) for name in _FILTERS if name in request.query_params)
        return cls(
            filters=filters,
            record_filter=RecordFilter(
                person=identifier(request, "person"),
                assessor=identifier(request, "assessor"),
                horse=identifier(request, "horse"),
                visit=identifier(request, "visit"),
                foot=foot,
                decision=decision,
                kind="assessment",
                since=None if since is None else since.isoformat(),
                until=None if last is None or last == date.max else (last + timedelta(days=1)).isoformat(),
            ),
            order=order,
            limit=whole(request, "limit", least=1, most=MOST_LISTED, default=DEFAULT_LIMIT),
            after=_number_in(request, filters, order),
        )

    def next_page(self, number: int) -> tuple[str, str]:
        """The cursor behind the record of that number, and the address of the page that begins there."""
        cursor = _cursor(number, self.filters, self.order)
        query = [*self.filters, ("order", self.order), ("limit", str(self.limit)), ("after", cursor)]
        return cursor, f"{LIST}?{urlencode(query)}"


def page_of(store: Store, query: ListQuery) -> tuple[StoredAssessments, str | None]:
    """The page, and the address of the next one; None at the end. Raises StoreError.

    Numbers only grow: what is kept between two pages never moves one across their border, so that none is left out or
    comes twice.
    """
    found = store.records(
        query.record_filter, after=query.after, newest_first=query.order == ORDERS[0], limit=query.limit + 1
    )
    shown = found[: query.limit]
    superseded = store.corrections_of([record.id for record in shown])
    cursor, address = query.next_page(shown[-1].number) if len(found) > query.limit else (None, None)
    listed = tuple(_listed(record, superseded=record.id in superseded) for record in shown)
    return StoredAssessments(assessments=listed, next=cursor), address


def _listed(record: Record, *, superseded: bool) -> StoredAssessment:
    return StoredAssessment.model_validate(
        {name: getattr(record, name) for name in _COPIED}
        | {
            "rulebook": StoredRulebook(version=record.rulebook_version, digest=record.rulebook_digest),
            "corrects": record.about,
            "superseded": superseded,
            "href": address_of(record.id),
        }
    )


_COPIED: Final = tuple(StoredAssessment.model_fields.keys() - {"rulebook", "corrects", "superseded", "href"})


def _cursor(number: int, filters: tuple[tuple[str, str], ...], order: str) -> str:
    """A number and what it belongs to, so that a cursor does not pass for one of another list."""
    place = number.to_bytes(_NUMBER_BYTES)
    check = hashlib.sha256(place + json.dumps([filters, order]).encode()).digest()[:_CHECK_BYTES]
    return base64.urlsafe_b64encode(place + check).decode().rstrip("=")


def _number_in(request: Request, filters: tuple[tuple[str, str], ...], order: str) -> int | None:
    cursor = request.query_params.get("after")
    if cursor is None:
        return None
    try:
        raw = base64.urlsafe_b64decode(cursor.encode("ascii") + b"==")
    except (binascii.Error, UnicodeEncodeError):
        raw = b""
    number = int.from_bytes(raw[:_NUMBER_BYTES])
    if number > _LAST_NUMBER or cursor != _cursor(number, filters, order):
        allowed = "next from the page before, with the same filters and order"
        refuse("after", cursor, allowed, f"This does not lead on in this list. Send {allowed}.")
    return number
