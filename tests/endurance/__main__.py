"""``python -m tests.endurance NAME``: run an endurance test in full, and print what came of it."""

from __future__ import annotations

import argparse
import importlib
import random
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from tests.endurance.databases import DATABASES
from tests.endurance.readonly import NotAllowedHere

__all__ = ["NAMES", "main"]

NAMES: Final = {
    "killed": "killed",
    "database-killed": "database_killed",
    "removed": "removed",
    "readonly": "readonly",
    "writers": "writers",
    "mutated": "mutated",
    "schema": "schema",
    "injected": "injected",
}
"""The tests and their modules."""
_ALWAYS: Final = {
    "database-killed": ("postgresql",),
    "removed": ("sqlite",),
    "readonly": ("sqlite",),
    "mutated": ("sqlite",),
    "schema": ("sqlite",),
}
"""Those that are run on one database only."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit status: 1 when something was not as it must be."""
    parser = argparse.ArgumentParser(prog="python -m tests.endurance", description="Run an endurance test in full.")
    parser.add_argument("name", metavar="NAME", choices=NAMES, help=", ".join(NAMES))
    parser.add_argument("--count", type=int, metavar="N", help="how often, or how many (default: in full)")
    parser.add_argument("--database", choices=DATABASES, help="one of them alone (default: each in turn)")
    parser.add_argument("--seed", type=int, metavar="N", help="the same choices again (default: new ones)")
    options = parser.parse_args(arguments)
    module = importlib.import_module(f"tests.endurance.{NAMES[options.name]}")
    seed = random.SystemRandom().randrange(2**32) if options.seed is None else options.seed
    databases = _ALWAYS.get(options.name, DATABASES)
    failed = False
    for database in databases if options.database is None else (options.database,):
        folder = Path(tempfile.mkdtemp(prefix="fitcheck-endurance-"))
        try:
            report = module.run(options.count or module.FULL, database, folder, seed)
        except NotAllowedHere as reason:
            print(f"{options.name}: passed over, {reason}", file=sys.stderr)
            continue
        print(report.text(), flush=True)
        if report.faults:
            failed = True
            print(f"  What it left behind: {folder}", file=sys.stderr)
        else:
            shutil.rmtree(folder)
    return int(failed)


if __name__ == "__main__":
    raise SystemExit(main())
