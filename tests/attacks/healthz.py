"""How long /healthz takes to answer, asked again and again over new connections by a process of its own."""

from __future__ import annotations

import http.client
import json
import select
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from http import HTTPStatus
from urllib.parse import urlsplit

__all__ = ["Healthz"]

_EVERY_S = 0.02


class Healthz:
    """What asking has shown, once it has ended: the times of answers in seconds, and why there was none."""

    def __init__(self) -> None:
        self.times: list[float] = []
        self.failures: list[str] = []

    @contextmanager
    def asked(self, address: str) -> Iterator[None]:
        """Ask for as long as the block lasts."""
        with subprocess.Popen(
            [sys.executable, __file__, address], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        ) as process:
            yield
            told, _ = process.communicate()
        self.times, self.failures = json.loads(told)

    def __str__(self) -> str:
        return f"/healthz {max(self.times):.3f} s at most of {len(self.times)}, failures {self.failures}"


def _ask(place: str) -> None:
    """Ask until standard input ends, then tell."""
    times, failures = [], []
    while not select.select([sys.stdin], [], [], _EVERY_S)[0]:
        begin = time.monotonic()
        try:
            with closing(http.client.HTTPConnection(place, timeout=10)) as connection:
                connection.request("GET", "/healthz")
                status = connection.getresponse().status
            if status != HTTPStatus.OK:
                failures.append(str(status))
        except (OSError, http.client.HTTPException) as error:
            failures.append(repr(error))
        times.append(time.monotonic() - begin)
    sys.stdout.write(json.dumps([times, failures]))


if __name__ == "__main__":
    _ask(urlsplit(sys.argv[1]).netloc)
