"""GET /v1/events: all that is kept as CloudEvents, in order, to be followed from any place."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable
from http import HTTPStatus
from typing import Annotated, Final

from fastapi import FastAPI
from pydantic import AfterValidator, Field
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.types import Message

from api.event_feed import EventFeed, TooManyWaiting
from api.http.key_cache import REMEMBERED_S
from api.http.problems import READING, ProblemError
from api.http.route_scopes import admit_again, needs
from api.openapi.operation import Answer, Content, Operation, add_operation, header
from api.parameters.query import WHOLE, Query, refuse
from api.responses.records import EVENT_EXAMPLES, Event
from fitcheck.fitting.strict_json import cut
from fitcheck.records.feed import START, Batch, Cursor, UnknownCursor

__all__ = ["MEDIA_TYPE", "add_events"]

MEDIA_TYPE: Final = "application/cloudevents-batch+json"
PATH: Final = "/v1/events"
TAG: Final = "events"

_AFTER: Final = "after"
_LATEST: Final = "latest"
_LIMIT_MOST: Final = 1000
_WAIT_MOST_S: Final = 60
_AGAIN_S: Final = 5
_DOC: Final = """Every assessment, override and erasure that is kept, as CloudEvents 1.0 in the JSON batch format: a
JSON list, in the order of the records' numbers, none left out, whatever is kept meanwhile and by how many servers.

Ask the first time without after, or with after=latest for only what is yet to come. The answer's header Link (rel=next)
leads on: keep its after together with what you did with the events, in one transaction, and go on from there, also
after a failure. A batch may so come twice, in whole or in part; an event that you have has the same source and id. A
batch may have fewer events than limit while there are more; an empty list means that there are no more yet.

With wait, an answer that would be empty waits until something is kept, at most so many seconds; ask again from the
cursor it gives. Have your client wait longer than that before it gives up.

data.record has all that the digests cover, so that a follower can check the chain: previous is always the digest before
it. A record whose content was erased is told with erased true and without the content; the erasure itself is an event,
with the numbers to erase on your side.

A cursor is good for good, in the store that gave it. In another store, or one that was put back to an earlier state and
went on otherwise, it is refused rather than that something be missed: begin again without after, and pass over what you
have. examples/follow_events.py in the source is a whole follower."""


def _cursor_or_latest(text: str) -> str:
    if text != _LATEST and Cursor.read(text) is None:
        refuse(
            _AFTER,
            text,
            f'"{_LATEST}", or a cursor from the header Link of an answer',
            f'"{cut(text)}" is not a cursor. Take after from the header Link of an earlier answer, or leave it out to '
            "begin at the first record.",
        )
    return text


class _EventsQuery(Query):
    after: Annotated[str | None, AfterValidator(_cursor_or_latest)] = None
    """The cursor to go on from, as the header Link of an earlier answer has it; latest: only what is kept from now on;
    left out: from the first record."""
    limit: Annotated[int, Field(ge=1, le=_LIMIT_MOST), WHOLE] = 100
    """How many events at most."""
    wait: Annotated[int, Field(ge=0, le=_WAIT_MOST_S), WHOLE] = 0
    """How many seconds to wait for something to tell, where there is nothing yet."""


def add_events(app: FastAPI, event_feed: EventFeed) -> None:
    """Add the route that shows ``event_feed``."""

    @needs("read")
    async def show_events(request: Request) -> Response:
        query = _EventsQuery.of(request)
        limit, wait = query.limit, query.wait
        after = await event_feed.latest() if query.after == _LATEST else Cursor.read(query.after or "") or START
        try:
            batch = await event_feed.batch(after, limit)
            if not batch.count and wait:
                begun = time.monotonic()
                if await _unless_gone(request.receive, event_feed.beyond(after.number, wait)):
                    if time.monotonic() - begun > REMEMBERED_S:
                        await admit_again(request.scope)
                    batch = await event_feed.batch(after, limit)
        except UnknownCursor:
            refuse(_AFTER, str(after), "a cursor of this store", _OTHER_STORE)
        except TooManyWaiting:
            raise ProblemError(
                "too-many-requests",
                f"Too many requests wait for events already. Wait {_AGAIN_S} s, or ask with wait=0.",
                headers={"retry-after": str(_AGAIN_S)},
            ) from None
        return _answered(batch, limit, wait)

    add_operation(app, PATH, show_events, _FOLLOW)


async def _unless_gone(receive: Callable[[], Awaitable[Message]], come: Awaitable[bool]) -> bool:
    """What ``come`` says. Raises ClientDisconnect as soon as the client goes away."""
    waiting, gone = asyncio.ensure_future(come), asyncio.ensure_future(_gone(receive))
    try:
        await asyncio.wait({waiting, gone}, return_when=asyncio.FIRST_COMPLETED)
        if waiting.done():
            return waiting.result()
        raise ClientDisconnect
    finally:
        waiting.cancel()
        gone.cancel()
        await asyncio.gather(waiting, gone, return_exceptions=True)


async def _gone(receive: Callable[[], Awaitable[Message]]) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


def _answered(batch: Batch, limit: int, wait: int) -> Response:
    following = f"{PATH}?{_AFTER}={batch.next}&limit={limit}&wait={wait}"
    return Response(batch.body, media_type=MEDIA_TYPE, headers={"link": f'<{following}>; rel="next"'})


_OTHER_STORE: Final = (
    "This store never gave that cursor: it is of another store, or this one was put back to an earlier state. Begin "
    "again without after, and pass over the events that you have."
)
_FOLLOW: Final = Operation(
    name="events",
    tag=TAG,
    summary="Follow what is kept",
    description=_DOC,
    query=_EventsQuery,
    answers={
        HTTPStatus.OK: Answer(
            "The next events, or none.",
            Content((Event,), MEDIA_TYPE, EVENT_EXAMPLES, listed=True),
            {
                "Link": header(
                    "The address of what follows, rel=next, with the cursor to go on from in after; also when the list "
                    "is empty.",
                    example=f'<{PATH}?{_AFTER}=2-2222222222222222&limit=100&wait=30>; rel="next"',
                )
            },
        )
    },
    problems=("too-many-requests", *READING),
)
