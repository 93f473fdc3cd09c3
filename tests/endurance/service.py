"""``fitcheck serve`` in a process group of its own, so that all of it can be killed in one blow."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from tests.endurance.processes import gone, group_of
from tests.support.paths import ROOT

__all__ = ["ROOT", "Service"]

_STARTS_WITHIN_S: Final = 120.0
_STOPS_WITHIN_S: Final = 60.0


class Service:
    """The service on one store, at a free port in each of its lives."""

    def __init__(self, folder: Path, records: str) -> None:
        """Logs lie in ``folder``, and so does what server processes leave behind."""
        self._folder = folder
        own = {name: value for name, value in os.environ.items() if not name.startswith(("FITCHECK_", "PROMETHEUS_"))}
        paths = os.pathsep.join([str(ROOT), *filter(None, sys.path)])
        self.environment = own | {"PYTHONPATH": paths, "FITCHECK_RECORDS": records, "TMPDIR": str(folder)}
        self._lives = 0
        self._workers = 1
        self._process: subprocess.Popen[bytes] | None = None
        self.address = ""

    @property
    def log(self) -> Path:
        """What it has written in this life."""
        return self._folder / f"server-{self._lives}.log"

    def begin(self, *options: str, workers: int = 1) -> None:
        """Start it, without waiting for anything."""
        self._lives += 1
        self._workers = workers
        command = [sys.executable, "-m", "fitcheck", "serve", "--port", "0", "--workers", str(workers), *options]
        with self.log.open("wb") as output:
            self._process = subprocess.Popen(
                command, cwd=ROOT, env=self.environment, stdout=output, stderr=output, start_new_session=True
            )

    def wait(self) -> str:
        """Come back when every server process takes requests; the address. Raises AssertionError with its log."""
        assert self._process is not None
        patience = time.monotonic() + _STARTS_WITHIN_S
        while True:
            said = self.log.read_text(encoding="utf-8")
            found = re.search(r"running on (http://[\d.]+:\d+)", said)
            if found and said.count("Application startup complete") >= self._workers:
                self.address = found[1]
                return self.address
            assert self._process.poll() is None, said
            assert time.monotonic() < patience, said
            time.sleep(0.02)

    def start(self, *options: str, workers: int = 1) -> str:
        """Start it, and come back when it takes requests; the address."""
        self.begin(*options, workers=workers)
        return self.wait()

    def kill(self) -> None:
        """Kill every process of it at once; none is left when this returns."""
        assert self._process is not None
        with suppress(ProcessLookupError):
            os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()
        gone(group_of(self._process.pid))

    def stop(self) -> None:
        """Ask it to end, as whoever runs it would."""
        assert self._process is not None
        self._process.terminate()
        self._process.wait(_STOPS_WITHIN_S)

    def errors(self) -> list[str]:
        """Lines of this life's log that tell of something that went wrong."""
        lines = self.log.read_text(encoding="utf-8").splitlines()
        return [line for line in lines if re.search(r'"level": "(error|critical)"|Traceback|database is locked', line)]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._process is not None and self._process.poll() is None:
            self.kill()
