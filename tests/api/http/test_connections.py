"""Connections over a real socket: what a slow client, one that never reads and one too many come to."""

from __future__ import annotations

import asyncio
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress

import pytest
import uvicorn
from starlette.types import Message, Receive, Scope, Send

from api.http import connections
from api.http.connections import Connection, event_loop
from api.http.request_middleware import RequestMiddleware
from api.http.request_notes import GONE

HEALTH = b"GET /healthz HTTP/1.1\r\nhost: localhost\r\n\r\n"
HALF_HEAD = b"POST /body HTTP/1.1\r\nhost: loc"
HALF_BODY = b"POST /body HTTP/1.1\r\nhost: localhost\r\ncontent-length: 9\r\n\r\nhalf"
Open = Callable[[bytes], socket.socket]


class Service:
    """Answers four addresses: /healthz, /body (once it is there), /wait (until the client has gone), /much."""

    def __init__(self) -> None:
        self.gone = threading.Event()
        self.waiting = threading.Semaphore(0)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def answer(body: bytes, *, more: bool = False) -> None:
            await send({"type": "http.response.body", "body": body, "more_body": more})

        if scope["type"] != "http":
            return
        if scope["path"] == "/body":
            message: Message = {"more_body": True}
            while message.get("more_body"):
                message = await receive()
                if message["type"] == "http.disconnect":
                    self.gone.set()
                    return
        if scope["path"] == "/wait":
            self.waiting.release()
            with suppress(TimeoutError):
                await asyncio.wait_for(scope["state"][GONE].wait(), 20)
            self.gone.set()
            return
        await send({"type": "http.response.start", "status": 200, "headers": []})
        if scope["path"] == "/much":
            while not scope["state"][GONE].is_set():
                await answer(b"x" * 65536, more=True)
            self.gone.set()
            return
        await answer(b"well")


@contextmanager
def running(service: Service) -> Iterator[Open]:
    """The service on a free port; gives what opens a connection and sends something."""
    listening = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(
        RequestMiddleware(service), http=Connection, lifespan="off", log_config=None, timeout_graceful_shutdown=1
    )
    server = uvicorn.Server(config)

    def run() -> None:
        with asyncio.Runner(loop_factory=event_loop) as runner:
            runner.run(server.serve([listening]))

    thread = threading.Thread(target=run)
    thread.start()
    with ExitStack() as opened:

        def connect(first: bytes) -> socket.socket:
            client = opened.enter_context(socket.create_connection(listening.getsockname(), timeout=10))
            client.sendall(first)
            return client

        address = listening.getsockname()
        while not server.started:
            time.sleep(0.01)
        assert address == listening.getsockname()
        yield connect
    server.should_exit = True
    thread.join(10)
    assert not thread.is_alive()


@pytest.fixture
def service() -> Service:
    return Service()


@pytest.fixture
def connect(service: Service, monkeypatch: pytest.MonkeyPatch) -> Iterator[Open]:
    """Opens connections to the service, which has little patience and takes eight of them and two in reserve."""
    monkeypatch.setattr(connections, "_LOOK_EVERY_S", 0.05)
    monkeypatch.setattr(connections, "_PATIENCE_S", {"head": 0.4, "body": 0.4, "reader": 0.4, "close": 0.4})
    monkeypatch.setattr(connections, "_MOST", 8)
    monkeypatch.setattr(connections, "_RESERVE", 2)
    with running(service) as connect:
        yield connect


def everything(client: socket.socket) -> bytes:
    """All that comes until the service ends the connection."""
    received = bytearray()
    with suppress(ConnectionResetError):
        while piece := client.recv(65536):
            received += piece
    return bytes(received)


@pytest.mark.parametrize(("sent", "said"), [(b"", b""), (HALF_HEAD, b"HTTP/1.1 408"), (HALF_BODY, b"HTTP/1.1 408")])
def test_a_request_that_does_not_come_is_not_waited_for(
    connect: Open, service: Service, sent: bytes, said: bytes
) -> None:
    begin = time.monotonic()
    assert everything(connect(sent)).startswith(said)
    assert 0.3 < time.monotonic() - begin < 5
    if sent == HALF_BODY:
        assert service.gone.wait(5)


def test_a_head_that_comes_in_drops_has_one_time_for_all_of_it(connect: Open) -> None:
    client = connect(b"GET /healthz HTTP/1.1\r\n")
    begin = time.monotonic()
    with suppress(ConnectionError):
        while time.monotonic() - begin < 5:
            client.sendall(b"x-drop: 1\r\n")
            time.sleep(0.05)
    assert time.monotonic() - begin < 5


def test_a_body_that_comes_steadily_is_waited_for_and_one_in_drops_is_not(connect: Open) -> None:
    steady = connect(b"POST /body HTTP/1.1\r\nhost: localhost\r\ncontent-length: 32000\r\n\r\n")
    for _ in range(16):
        steady.sendall(b"x" * 2000)
        time.sleep(0.08)
    assert steady.recv(65536).startswith(b"HTTP/1.1 200")
    drops = connect(b"POST /body HTTP/1.1\r\nhost: localhost\r\ncontent-length: 32000\r\n\r\n")
    with pytest.raises(ConnectionError):  # noqa: PT012  (one of many is the one)
        for _ in range(60):
            drops.sendall(b"x")
            time.sleep(0.05)


def test_a_client_that_never_reads_is_dropped_and_one_that_reads_slowly_is_not(connect: Open, service: Service) -> None:
    slow = connect(b"GET /much HTTP/1.1\r\nhost: localhost\r\n\r\n")
    for _ in range(15):
        wanted = 3_000_000
        while wanted > 0:
            wanted -= len(slow.recv(min(wanted, 1 << 20)))
        time.sleep(0.1)
    assert not service.gone.is_set()
    assert service.gone.wait(10)


def test_requests_one_after_another_over_one_connection_go_on(connect: Open) -> None:
    client = connect(b"")
    for _ in range(20):
        client.sendall(HEALTH)
        answer = b""
        while not answer.endswith(b"0\r\n\r\n"):
            answer += client.recv(65536)
        assert answer.startswith(b"HTTP/1.1 200")
        time.sleep(0.05)


def test_whoever_waits_longest_gives_way_to_a_new_one(connect: Open) -> None:
    halves = [connect(HALF_BODY if number % 2 else HALF_HEAD) for number in range(8)]
    for _ in range(20):
        client = connect(HEALTH)
        assert client.recv(65536).startswith(b"HTTP/1.1 200")
        client.close()
    assert everything(halves[0]) == b""


@pytest.mark.parametrize(("many", "kept"), [(6, False), (5, True)])
def test_where_there_are_nearly_too_many_one_at_rest_is_kept_for_less_long(
    connect: Open, monkeypatch: pytest.MonkeyPatch, many: int, *, kept: bool
) -> None:
    """Six of eight are nearly too many: they would slow down all who come."""
    monkeypatch.setattr(connections, "_RESTS_S", 0.4)
    clients = [connect(HEALTH) for _ in range(many)]
    for client in clients:
        assert client.recv(65536).startswith(b"HTTP/1.1 200")
        client.settimeout(0.1)
    time.sleep(1.5)
    closed = 0
    for client in clients:
        with suppress(TimeoutError):
            closed += everything(client)[-5:] in {b"", b"0\r\n\r\n"}
    assert (closed == 0) if kept else (1 <= closed <= many)


def test_while_all_are_at_work_there_is_room_to_be_told_so(connect: Open, service: Service) -> None:
    for _ in range(8):
        connect(b"GET /wait HTTP/1.1\r\nhost: localhost\r\n\r\n")
        assert service.waiting.acquire(timeout=5)
    for path, said in ((b"/healthz", b"HTTP/1.1 200"), (b"/body", b"HTTP/1.1 503"), (b"/wait", b"HTTP/1.1 503")):
        client = connect(b"GET %b HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n\r\n" % path)
        answer = everything(client)
        assert answer.startswith(said)
        if b"503" in said:
            assert b"retry-after: 5" in answer
            assert b"/problems/busy" in answer


def test_a_client_that_leaves_while_nothing_more_of_its_body_is_read_is_noticed(
    connect: Open, service: Service
) -> None:
    client = connect(b"POST /wait HTTP/1.1\r\nhost: localhost\r\ncontent-length: 9000000\r\n\r\n" + b"x" * 200_000)
    assert service.waiting.acquire(timeout=5)
    assert not service.gone.wait(1)
    client.close()
    assert service.gone.wait(5)


def test_the_bound_is_half_of_the_files_that_may_be_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    for files, most in ((256, 128), (1, 1), (100_000, 2048), (-1, 2048)):
        monkeypatch.setattr("resource.getrlimit", lambda _, files=files: (files, files))
        assert connections._most_connections() == most
