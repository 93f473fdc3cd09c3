"""A receiver of webhooks in a process of its own: ``python -m tests.support.receiver PORT FILE [STATUS [SECONDS]]``.

Each message goes to FILE as a line of JSON, its headers and its body, before it is answered with STATUS after SECONDS.
"""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

__all__ = ["Receiver"]


class Receiver:
    """Such a process, to be killed and started again at the same address."""

    def __init__(self, root: Path, file: Path) -> None:
        self._root = root
        self._file = file
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port: int = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}/hook"
        self._process: subprocess.Popen[bytes] | None = None

    def start(self, status: int = 204, seconds: float = 0.0) -> None:
        """Start it, and come back when it takes connections."""
        command = [sys.executable, __file__, f"{self.port}", str(self._file), f"{status}", f"{seconds}"]
        self._process = subprocess.Popen(command, cwd=self._root)
        patience = time.monotonic() + 20
        while True:
            with socket.socket() as trying:
                if trying.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            assert time.monotonic() < patience
            time.sleep(0.02)

    def kill(self) -> None:
        """End it at once."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    @property
    def messages(self) -> list[dict[str, Any]]:
        """All that came, over all its lives."""
        return [json.loads(line) for line in self._file.read_text().splitlines()] if self._file.exists() else []

    def wait(self, count: int, within_s: float = 30.0) -> list[dict[str, Any]]:
        """Come back when so many messages have come."""
        patience = time.monotonic() + within_s
        while len(self.messages) < count:
            assert time.monotonic() < patience, f"{len(self.messages)} of {count} messages came"
            time.sleep(0.05)
        return self.messages


def _serve(port: int, file: Path, status: int, seconds: float) -> None:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            line = json.dumps({"headers": {k.lower(): v for k, v in self.headers.items()}, "body": body.decode()})
            with file.open("a") as opened:
                opened.write(f"{line}\n")
            time.sleep(seconds)
            self.send_response(status)
            if 300 <= status < 400:
                self.send_header("location", f"http://127.0.0.1:{port}/elsewhere")
            self.send_header("content-length", "0")
            self.end_headers()

        def log_message(self, *_arguments: Any) -> None:
            pass

    ThreadingHTTPServer(("127.0.0.1", port), Handler).serve_forever()


if __name__ == "__main__":
    _serve(int(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), float(sys.argv[4]))
