"""Batches on a server, from a process of their own: NDJSON sent while the answers are read.

Run as ``python -m benchmarks.streaming HOST PORT BATCHES LINES`` with the fittings, one a line, on standard input: each
of the batches has that many lines, the fittings over and over.  It prints how many lines of the first batch are
answered, tenth by tenth, and at last the seconds that all took.
"""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from itertools import cycle, islice

from benchmarks.harness import ROOT, environment
from benchmarks.servers import Server

__all__ = ["stream"]

_PIECE = 256  # lines sent at once
_ANSWER = b',"assessment":{'
_TENTHS = 10


def stream(
    server: Server, bodies: bytes, batches: int, lines: int, at_each_tenth: Callable[[int], None] = lambda _: None
) -> float:
    """Seconds that ``batches`` batches at once of ``lines`` lines each take; ``at_each_tenth`` hears of the first one.

    Raises RuntimeError when any line was not answered with an assessment.
    """
    command = [sys.executable, "-m", "benchmarks.streaming", server.host, str(server.port), str(batches), str(lines)]
    with subprocess.Popen(  # noqa: S603  (our own)
        command, cwd=ROOT, env=environment(), stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        assert process.stdin is not None  # noqa: S101  (for the type checker)
        assert process.stdout is not None  # noqa: S101  (for the type checker)
        process.stdin.write(bodies)
        process.stdin.close()
        last = b""
        for said in process.stdout:
            if said.startswith(b"answered "):
                at_each_tenth(int(said.split()[1]))
            last = said
    if process.returncode != 0:
        raise RuntimeError("a batch was not answered as it should be")
    return float(last)


class _Batch:
    """One request: sent by one thread while another reads the answer."""

    def __init__(self, address: tuple[str, int], raw: list[bytes], lines: int) -> None:
        self._raw = raw
        self._lines = lines
        self._socket = socket.create_connection(address)
        self.answered = 0
        self.begun = threading.Event()

    def send(self) -> None:
        host, port = self._socket.getpeername()
        pieces = self._pieces()
        size = sum(map(len, self._pieces()))
        self._socket.sendall(
            f"POST /v1/assessments/batch HTTP/1.1\r\nHost: {host}:{port}\r\nConnection: close\r\n"
            f"Content-Type: application/x-ndjson\r\nContent-Length: {size}\r\n\r\n".encode()
        )
        for piece in pieces:
            self._socket.sendall(piece)

    def _pieces(self) -> Iterator[bytes]:
        lines = islice(cycle(self._raw), self._lines)
        while piece := b"".join(islice(lines, _PIECE)):
            yield piece

    def read(self, heard: Callable[[int], None]) -> None:
        rest = b""
        while data := self._socket.recv(1 << 18):
            rest += data
            self.answered += rest.count(_ANSWER)
            # What may yet become an answer; it is too short to hold one that was counted.
            rest = rest[-(len(_ANSWER) - 1) :]
            self.begun.set()
            heard(self.answered)
        self.begun.set()
        self._socket.close()


def _main(host: str, port: str, batches: str, lines: str) -> None:
    raw = [line + b"\n" for line in sys.stdin.buffer.read().splitlines() if line]
    wanted = int(lines)
    told = 0

    def tell(answered: int) -> None:
        nonlocal told
        while told < _TENTHS and answered >= wanted * (told + 1) // _TENTHS:
            told += 1
            print(f"answered {answered}", flush=True)

    start = time.perf_counter()
    made, threads = [], []
    for number in range(int(batches)):
        batch = _Batch((host, int(port)), raw, wanted)
        made.append(batch)
        threads += [
            threading.Thread(target=batch.send),
            threading.Thread(target=batch.read, args=(tell if number == 0 else lambda _: None,)),
        ]
        for thread in threads[-2:]:
            thread.start()
        # A server process that is idle takes all connections that wait; one that is at work leaves them to the others.
        batch.begun.wait()
    for thread in threads:
        thread.join()
    took = time.perf_counter() - start
    if any(batch.answered != wanted for batch in made):
        sys.exit(f"of {wanted} lines each, with an assessment: {[batch.answered for batch in made]}")
    print(took)


if __name__ == "__main__":
    _main(*sys.argv[1:])
