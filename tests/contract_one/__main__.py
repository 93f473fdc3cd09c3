"""The corpus of the first contract, held against the tool of today.

``python -m tests.contract_one check`` names each field of the answers that changed, and for how many fittings; the
status is 1 when there is one. ``python -m tests.contract_one write`` freezes the answers of today: only where
``changes.toml`` cannot say what is meant.
"""

from __future__ import annotations

import argparse
import sys

from tests.contract_one.corpus import differences, lines, read_answers, write_answers


def main() -> int:
    """Run the command line; returns the exit status."""
    parser = argparse.ArgumentParser(prog="python -m tests.contract_one", description=__doc__)
    parser.add_argument("action", choices=("check", "write"))
    if parser.parse_args().action == "write":
        print(f"{write_answers()} answers frozen")
        return 0
    changed = differences(read_answers(), lines())
    for field, names in changed.items():
        print(f"{field}: {len(names)} changed, such as {names[0]}")
    return 1 if changed else 0


if __name__ == "__main__":
    sys.exit(main())
