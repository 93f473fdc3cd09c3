"""The service as a process of its own, that can be killed and started again at the same address."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import Self

__all__ = ["Served"]

STARTS_WITHIN_S = 30.0


class Served:
    """A server of ``application`` with records at ``records``; ``settings``: what else its environment has."""

    def __init__(
        self, root: Path, folder: Path, records: str, application: str = "api.application:create_app", **settings: str
    ) -> None:
        self._application = application
        self._root = root
        self.log = folder / "server.log"
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self._port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self._port}"
        path = os.pathsep.join([str(root), *sys.path])
        self._environment = os.environ | {"PYTHONPATH": path, "NO_COLOR": "1", "FITCHECK_RECORDS": records} | settings
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, and come back when it takes requests."""
        command = [sys.executable, "-m", "uvicorn", "--factory", self._application, "--no-access-log"]
        address = ["--host", "127.0.0.1", "--port", str(self._port)]
        before = self.written().count("Uvicorn running on")
        with self.log.open("ab") as output:
            self.process = subprocess.Popen(
                [*command, *address], cwd=self._root, env=self._environment, stdout=output, stderr=output
            )
        patience = time.monotonic() + STARTS_WITHIN_S
        while self.written().count("Uvicorn running on") == before:
            assert self.process.poll() is None, self.written()
            assert time.monotonic() < patience, self.written()
            time.sleep(0.02)

    def written(self) -> str:
        """What it has logged, over all its lives."""
        return self.log.read_text() if self.log.exists() else ""

    def kill(self) -> None:
        """End it at once, in the midst of whatever it does."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def stop(self, within_s: float = STARTS_WITHIN_S) -> float:
        """Ask it to end; the seconds that it takes. Raises subprocess.TimeoutExpired."""
        assert self.process is not None
        begin = time.monotonic()
        self.process.terminate()
        self.process.wait(within_s)
        return time.monotonic() - begin

    def faults(self) -> list[str]:
        """Lines of the log that tell of something that went wrong."""
        return [line for line in self.written().splitlines() if re.search("ERROR|Traceback|Exception|CRITICAL", line)]

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self.process is not None and self.process.poll() is None:
            self.kill()
