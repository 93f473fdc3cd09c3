"""Processes that all write to one store, from the same moment on."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

__all__ = ["written_together"]

_PATIENCE_S = 3600
_WRITER = """
import sys, uuid
from fitcheck.records import Draft, Idempotency, open_store

url, each, shared = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])

def draft():
    return Draft(kind="assessment", received=b"{}", answer=b"{}", id=str(uuid.uuid4()), person="A-3",
                 created="2026-03-04T10:00:00.000Z", rulebook_version="1", rulebook_digest="sha256:")

print("ready", flush=True)
sys.stdin.readline()
fresh = 0
with open_store(url) as store:
    for _ in range(each):
        store.keep(draft())
    for number in range(shared):
        fresh += store.keep(draft(), Idempotency(f"send-{number}", "", "sha256:1")).fresh
print(fresh)
"""


def written_together(url: str, root: Path, processes: int, *, each: int, shared: int) -> list[int]:
    """Have each process keep ``each`` records, then one for each of ``shared`` keys that all of them use.

    Returns for how many of those keys each process was the first. ``root`` is the folder of the project. Raises
    AssertionError, with what they said, where one of them fails.
    """
    arguments = [sys.executable, "-c", _WRITER, url, str(each), str(shared)]
    writing = [
        subprocess.Popen(
            arguments, cwd=root, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        for _ in range(processes)
    ]
    for process in writing:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    for process in writing:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    said = [process.communicate(timeout=_PATIENCE_S) for process in writing]
    assert [process.returncode for process in writing] == [0] * processes, [error for _, error in said]
    return [int(out) for out, _ in said]
