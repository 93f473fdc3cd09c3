"""The service's connections under uvicorn: bounded in number, and in the time that a client may let each of them wait.

uvicorn itself waits for ever for the rest of a request, and for a client to read its answer.  Here each connection is
looked at once a second, and dropped where its client has taken too long; where there are nearly too many, those at
rest are closed sooner, and where there are, the one that has waited longest for its client gives way to a new one.
While all are at work a new one is taken all the same, up to some in reserve, and answered only that the service is
busy, or alive.

The service itself is told of its connection in the state of the request: whether it is beyond the bound, and an event
for when the client has gone, since ASGI tells that only to those who are ready to take more of the body.
"""

from __future__ import annotations

import asyncio
import logging
import resource
import select
from collections import OrderedDict
from typing import Any, Final, Literal
from weakref import WeakKeyDictionary

import h11
from starlette.types import Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.server import ServerState

from api.http.metrics import count_dropped
from api.http.request_notes import ALWAYS_ANSWERED, BEYOND, GONE

__all__ = ["Connection", "event_loop"]

_logger = logging.getLogger(__name__)
_MOST: Final = 2048
_RESERVE: Final = 32
_CROWDED_S: Final = 0.3
"""How long a request waits to begin while there are as many connections as there may be."""
_FULL: Final = 0.75
"""Of as many connections as there may be: from so many on, one at rest is kept only for _RESTS_S."""
_RESTS_S: Final = 5.0
_LOOK_EVERY_S: Final = 1.0
_ACCEPTED_AT_ONCE: Final = 16
"""So few that those who must give way have gone before the process has no more files to open."""
_QUEUE: Final = 2048
"""Connections that the kernel lets wait to be accepted."""

_Wait = Literal["head", "body", "reader", "close"]
_PATIENCE_S: Final[dict[_Wait, float]] = {"head": 10.0, "body": 60.0, "reader": 60.0, "close": 10.0}
"""How long a client may take: to begin and send the head of a request, for the least of a body, to read on, to go."""
_LEAST_OF_BODY: Final = 1024
"""Bytes of a body that must come within its time, unless it ends."""
_TOO_SLOW: Final = b"The request came too slowly.\n"
_TIMEOUT_ANSWER: Final = (
    b"HTTP/1.1 408 Request Timeout\r\ncontent-type: text/plain; charset=utf-8\r\nconnection: close\r\n"
    b"content-length: %d\r\n\r\n%b" % (len(_TOO_SLOW), _TOO_SLOW)
)

_BY_AGE: Final[WeakKeyDictionary[ServerState, OrderedDict[Connection, None]]] = WeakKeyDictionary()
"""The connections of each server, first the one that has waited longest."""


def _most_connections() -> int:
    """The bound: half of the files that the process may open, since each request may need further ones."""
    files, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return _MOST if files == resource.RLIM_INFINITY else max(1, min(_MOST, files // 2))


class Connection(H11Protocol):
    """One connection of a client, over which requests come one after another."""

    def __init__(self, *arguments: Any, **settings: Any) -> None:
        super().__init__(*arguments, **settings)
        self._service = self.app
        self.app = self._serve
        self._gone = asyncio.Event()
        self._beyond = False
        self._wait: _Wait | None = "head"
        self._since = self.loop.time()
        """Since when this connection waits for its client to do what it should do next."""
        self._by_age = _BY_AGE.setdefault(self.server_state, OrderedDict())
        self._received = 0
        self._look: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as uvicorn has it
        """Begin, where there is room or can be made."""
        super().connection_made(transport)
        self._look = self.loop.call_later(_LOOK_EVERY_S, self._look_again)
        most = _most_connections()
        if len(self._by_age) >= most:
            longest = next((each for each in self._by_age if each.may_give_way), None)
            self._beyond = longest is None
            if longest is not None:
                longest.drop("full")
            elif len(self._by_age) >= most + _RESERVE:
                self.drop("full")
                return
        self._by_age[self] = None

    def data_received(self, data: bytes) -> None:
        """Take what came."""
        self._received += len(data)
        super().data_received(data)

    def resume_writing(self) -> None:
        """Go on writing: the client has read on."""
        self._wait_anew(self._wait)
        super().resume_writing()

    def on_response_complete(self) -> None:
        """Begin to wait for the next request."""
        self._wait_anew("head")
        super().on_response_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """End."""
        if self._look is not None:
            self._look.cancel()
        self._gone.set()
        self._by_age.pop(self, None)
        super().connection_lost(exc)

    @property
    def may_give_way(self) -> bool:
        """Whether it waits for a request, or for more of one."""
        return self._at_rest() or self._waits_for() == "body"

    def drop(self, why: str) -> None:
        """End the connection at once, whatever is still to be sent."""
        count_dropped(why)
        _logger.warning("a connection was dropped: %s", why)
        self._by_age.pop(self, None)
        self.transport.abort()

    async def _serve(self, scope: Scope, receive: Receive, send: Send) -> None:
        crowded = len(self._by_age) - _most_connections()
        self._beyond = self._beyond and crowded > 0
        if crowded >= 0 and scope["path"] not in ALWAYS_ANSWERED:
            # One of those that come and must give way at once is not worth the work of beginning.
            await asyncio.sleep(_CROWDED_S)
            if self._gone.is_set():
                return
        scope["state"] |= {BEYOND: self._beyond, GONE: self._gone}
        await self._service(scope, receive, send)

    def _at_rest(self) -> bool:
        return self.cycle is None or self.cycle.response_complete

    def _nearly_full(self) -> bool:
        return len(self._by_age) >= _FULL * _most_connections()

    def _waits_for(self) -> _Wait | None:
        """What this connection waits for its client to do; None where it is at work itself."""
        if self.transport.is_closing():
            return "close"
        if self.flow.write_paused:
            return "reader"
        if self._at_rest():
            if self.conn.their_state is h11.SEND_BODY:
                return "body"
            # Between requests uvicorn has a limit of its own.
            return "head" if self.timeout_keep_alive_task is None else None
        return "body" if self.cycle.more_body and not self.flow.read_paused else None

    def _wait_anew(self, wait: _Wait | None) -> None:
        self._wait, self._since, self._received = wait, self.loop.time(), 0
        if self in self._by_age:
            self._by_age.move_to_end(self)

    def _look_again(self) -> None:
        self._look = self.loop.call_later(_LOOK_EVERY_S, self._look_again)
        wait, now = self._waits_for(), self.loop.time()
        if wait != self._wait:
            self._wait_anew(wait)
        elif wait is None and self._at_rest() and now - self._since >= _RESTS_S and self._nearly_full():
            # Not dropped: nothing is lost by it, and its client may open another.
            self.transport.close()
        elif wait is not None and now - self._since >= _PATIENCE_S[wait]:
            if wait == "body" and self._received >= _LEAST_OF_BODY:
                self._wait_anew(wait)
            else:
                self._give_up(wait)
        elif self.flow.read_paused and self._hung_up():
            # While nothing more is read, nobody else would notice.
            self.drop("gone")

    def _give_up(self, wait: _Wait) -> None:
        answering = self.cycle is not None and self.cycle.response_started
        if (wait == "body" and not answering) or (wait == "head" and self._received):
            self.transport.write(_TIMEOUT_ANSWER)
            count_dropped(wait)
            _logger.warning("a connection was dropped: %s", wait)
            self.transport.close()
        else:
            self.drop(wait)

    def _hung_up(self) -> bool:
        look = select.poll()
        look.register(self.transport.get_extra_info("socket").fileno(), select.POLLRDHUP)
        return bool(look.poll(0))


class _Loop(asyncio.SelectorEventLoop):
    """An event loop that accepts few connections at once, while many may wait in the kernel's queue."""

    async def create_server(self, *arguments: Any, **settings: Any) -> asyncio.Server:
        server = await super().create_server(*arguments, **(settings | {"backlog": _ACCEPTED_AT_ONCE}))
        for listening in server.sockets:
            with listening.dup() as same:
                same.listen(_QUEUE)
        return server


def event_loop() -> asyncio.AbstractEventLoop:
    """The event loop that the service runs in."""
    return _Loop()
