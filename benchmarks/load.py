"""The load on a server, in a process of its own: single requests over connections that are kept, one after another.

Run as ``python -m benchmarks.load HOST PORT PATH CONNECTIONS SECONDS`` with one JSON body a line on standard input; it
prints requests per second and the 50th and 99th percentile of the time to the whole answer (ms), as JSON.
"""

from __future__ import annotations

import asyncio
import json
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import cycle

from benchmarks.harness import ROOT, environment
from benchmarks.servers import Server

__all__ = ["Load", "put_under_load"]

_OK = (b"HTTP/1.1 200 ", b"HTTP/1.1 201 ")


@dataclass(frozen=True, slots=True)
class Load:
    """What a server bore."""

    per_second: float
    p50_ms: float
    p99_ms: float


def put_under_load(server: Server, path: str, bodies: bytes, connections: int, seconds: float) -> Load:
    """Send ``bodies`` (one a line) from another process for ``seconds``.

    Raises subprocess.CalledProcessError when any answer was neither 200 nor 201.
    """
    command = [sys.executable, "-m", "benchmarks.load", server.host, str(server.port), path]
    command += [str(connections), str(seconds)]
    said = subprocess.run(command, input=bodies, cwd=ROOT, env=environment(), stdout=subprocess.PIPE, check=True)  # noqa: S603  (our own)
    return Load(**json.loads(said.stdout))


class _Connection(asyncio.Protocol):
    """Sends a request, waits for its whole answer, sends the next, until told to stop."""

    def __init__(self, requests: Iterator[bytes], until: float) -> None:
        self._requests = requests
        self._until = until
        self._heard = bytearray()
        self._missing = -1
        self._sent = 0.0
        self.times: list[float] = []
        self.ended: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)  # noqa: S101  (for the type checker)
        self._transport = transport
        self._send()

    def _send(self) -> None:
        self._sent = time.perf_counter()
        self._transport.write(next(self._requests))

    def data_received(self, data: bytes) -> None:
        self._heard += data
        if self._missing < 0:
            end = self._heard.find(b"\r\n\r\n")
            if end < 0:
                return
            self._missing = end + 4 + self._length(bytes(self._heard[:end]))
        if len(self._heard) < self._missing:
            return
        now = time.perf_counter()
        self.times.append(now - self._sent)
        self._heard.clear()
        self._missing = -1
        if now < self._until:
            self._send()
        else:
            self._transport.close()

    def _length(self, head: bytes) -> int:
        if not head.startswith(_OK):
            raise ValueError(head.decode())
        [length] = [line for line in head.lower().split(b"\r\n") if line.startswith(b"content-length:")]
        return int(length.partition(b":")[2])

    def connection_lost(self, exc: Exception | None) -> None:  # noqa: ARG002  (the protocol's own)
        if not self.ended.done():
            self.ended.set_result(None)


async def _run(host: str, port: int, requests: Iterator[bytes], connections: int, seconds: float) -> Load:
    loop = asyncio.get_running_loop()
    failed: list[str] = []
    loop.set_exception_handler(lambda _, context: failed.append(str(context.get("exception"))))
    start = time.perf_counter()
    opened = [
        (await loop.create_connection(lambda: _Connection(requests, start + seconds), host, port))[1]
        for _ in range(connections)
    ]
    await asyncio.gather(*(connection.ended for connection in opened))
    took = time.perf_counter() - start
    if failed:
        sys.exit(f"an answer was not as it should be: {failed[0]}")
    times = sorted(each for connection in opened for each in connection.times)
    return Load(len(times) / took, 1e3 * times[len(times) // 2], 1e3 * times[int(0.99 * (len(times) - 1))])


def _main(host: str, port: str, path: str, connections: str, seconds: str) -> None:
    head = f"POST {path} HTTP/1.1\r\nHost: {host}:{port}\r\nContent-Type: application/json\r\nContent-Length: "
    requests = [f"{head}{len(body)}\r\n\r\n".encode() + body for body in sys.stdin.buffer.read().splitlines() if body]
    load = asyncio.run(_run(host, int(port), cycle(requests), int(connections), float(seconds)))
    print(json.dumps(asdict(load)))


if __name__ == "__main__":
    _main(*sys.argv[1:])
