"""``fitcheck serve`` in a process of its own, with a folder for its records, its log and its commands."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

__all__ = ["EVERYWHERE", "STARTS_WITHIN_S", "Machine", "Run"]

STARTS_WITHIN_S = 30.0
EVERYWHERE = ".".join("0000")
_ENDED = frozenset({0, -15})


@dataclass
class Run:
    """A service that runs, and what it has logged."""

    address: str
    log: Path
    process: int
    """The id of the process that was started."""

    def lines(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.log.read_text(encoding="ascii").splitlines()]

    def requests(self, count: int) -> list[dict[str, Any]]:
        """The lines of ``count`` requests, once they are written."""
        patience = time.monotonic() + STARTS_WITHIN_S
        while True:
            found = [line for line in self.lines() if line["message"] == "request"]
            if len(found) >= count or time.monotonic() > patience:
                return found
            time.sleep(0.05)


@dataclass
class Machine:
    """A folder where records lie, and the command run on them."""

    folder: Path
    root: Path

    @property
    def environment(self) -> dict[str, str]:
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("FITCHECK_", "PROMETHEUS_"))}
        paths = os.pathsep.join([str(self.root), *sys.path])
        return kept | {"PYTHONPATH": paths, "FITCHECK_RECORDS": f"sqlite:///{self.folder / 'records.sqlite3'}"}

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "fitcheck", *words],
            cwd=self.root,
            env=self.environment,
            check=False,
            capture_output=True,
            text=True,
            timeout=60,
        )

    def key(self, *scopes: str) -> str:
        made = self.command("keys", "make", "--device", "Low Meadow", *(f"--scope={scope}" for scope in scopes))
        assert made.returncode == 0, made.stderr
        [token] = made.stdout.splitlines()
        return token

    @contextmanager
    def serving(
        self,
        *options: str,
        workers: int = 1,
        expect: frozenset[int] = _ENDED,
        files: int | None = None,
        **settings: str,
    ) -> Iterator[Run]:
        """The service while it runs; in the end it must have one of the statuses that ``expect`` says.

        ``files``: how many files its processes may open at most.
        """
        log = self.folder / "log"
        command = [sys.executable, "-m", "fitcheck", "serve", "--port", "0", "--workers", str(workers), *options]
        with (
            log.open("wb") as output,
            subprocess.Popen(
                command if files is None else ["prlimit", f"--nofile={files}:{files}", *command],
                cwd=self.root,
                env=self.environment | settings,
                stdout=output,
                stderr=output,
            ) as process,
        ):
            try:
                patience = time.monotonic() + STARTS_WITHIN_S
                while True:
                    said = log.read_text(encoding="ascii")
                    started = re.search(r"running on (http://[\d.]+:\d+)", said)
                    if started and said.count("Application startup complete") == workers:
                        break
                    assert process.poll() is None, said
                    assert time.monotonic() < patience, said
                    time.sleep(0.05)
                yield Run(started[1].replace(EVERYWHERE, "127.0.0.1"), log, process.pid)
            finally:
                process.terminate()
                assert process.wait(STARTS_WITHIN_S) in expect
