"""What was answered under the first contract, held against the tool of today.

``python -m tests.contract_one check`` names each field of the answers to the corpus that changed, and for how many
fittings, and what is no longer told of the kept stores; the status is 1 when there is any. ``python -m
tests.contract_one write`` freezes the answers of today: only where ``changes.toml`` cannot say what is meant. The kept
stores themselves and the OpenAPI document of the release are never written again.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from fitcheck.records import open_store
from tests.contract_one.corpus import differences, lines, read_answers, write_answers
from tests.contract_one.kept import by_kind, kept_in, lost, read_told, told, write_told


def main() -> int:
    """Run the command line; returns the exit status."""
    parser = argparse.ArgumentParser(prog="python -m tests.contract_one", description=__doc__)
    parser.add_argument("action", choices=("check", "write"))
    writing = parser.parse_args().action == "write"
    changed = {} if writing else differences(read_answers(), lines())
    for field, names in changed.items():
        print(f"{field}: {len(names)} changed, such as {names[0]}")
    with (
        tempfile.TemporaryDirectory() as folder,
        kept_in("sqlite", Path(folder)) as address,
        open_store(address) as store,
    ):
        if writing:
            print(f"{write_answers()} answers to the corpus and {write_told(store)} about the kept store frozen")
            return 0
        gone = lost(by_kind(read_told()), by_kind(told(store)), "")
    print("".join(f"kept store{path}: changed\n" for path in sorted(gone)), end="")
    return 1 if changed or gone else 0


if __name__ == "__main__":
    sys.exit(main())
