"""A server of one application in processes of its own, on a free port of this machine, for as long as a block runs."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from benchmarks.harness import ROOT, environment

__all__ = ["BARE", "OURS", "Server", "served"]

OURS: Final = "api.application:create_app"
BARE: Final = "benchmarks.bare:create_app"
_STARTS_WITHIN_S: Final = 30.0
_TICKS: Final = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True, slots=True)
class Server:
    """Where it listens, and the processes that do the work."""

    host: str
    port: int
    workers: tuple[int, ...]

    def processor_s(self) -> list[float]:
        """Seconds of processor that each worker has had so far."""
        spent = []
        for worker in self.workers:
            fields = Path(f"/proc/{worker}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
            spent.append((int(fields[11]) + int(fields[12])) / _TICKS)
        return spent


@contextmanager
def served(application: str, workers: int = 1) -> Iterator[Server]:
    """Run ``application`` (module:factory) with the settings of all servers of the benchmarks; records lie apart.

    Raises RuntimeError, with what the server said, when it does not start.
    """
    command = [sys.executable, "-m", "uvicorn", "--factory", application, "--host", "127.0.0.1", "--port", "0"]
    command += ["--no-access-log", "--no-server-header", *(("--workers", str(workers)) if workers > 1 else ())]
    with tempfile.TemporaryFile("w+b") as log, tempfile.TemporaryDirectory(prefix="fitcheck-records-") as folder:
        settings = environment() | {"FITCHECK_RECORDS": f"sqlite:///{folder}/records.sqlite3"}
        process = subprocess.Popen(command, cwd=ROOT, env=settings, stdout=log, stderr=log)  # noqa: S603  (our own)
        try:
            host, port = _address(process, log.fileno(), workers)
            yield Server(host, port, _children(process.pid, workers) if workers > 1 else (process.pid,))
        finally:
            process.terminate()
            process.wait(_STARTS_WITHIN_S)


def _address(process: subprocess.Popen[bytes], log: int, workers: int) -> tuple[str, int]:
    patience = time.monotonic() + _STARTS_WITHIN_S
    while True:
        said = os.pread(log, 1 << 20, 0).decode()
        address = re.search(r"running on http://([\d.]+):(\d+)", said)
        if address and said.count("Application startup complete") == workers:
            return address[1], int(address[2])
        if process.poll() is not None or time.monotonic() > patience:
            raise RuntimeError(f"the server did not start: {said}")
        time.sleep(0.02)


def _children(parent: int, workers: int) -> tuple[int, ...]:
    """The worker processes: those children that run the server, without the helper that minds shared resources."""
    listed = Path(f"/proc/{parent}/task/{parent}/children").read_text(encoding="ascii").split()
    children = tuple(
        int(child) for child in listed if b"resource_tracker" not in Path(f"/proc/{child}/cmdline").read_bytes()
    )
    if len(children) != workers:
        raise RuntimeError(f"{len(children)} worker processes instead of {workers}")
    return children
