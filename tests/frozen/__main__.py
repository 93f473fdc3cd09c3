"""Hold what the tool answers against what it answered when it was frozen.

``python -m tests.frozen check [GROUP…]`` names every answer that changed; the status is 1 when there is one.
``python -m tests.frozen write [GROUP…]`` freezes the answers of today: only for a change that is meant, in a commit of
its own that CHANGELOG names. ``python -m tests.frozen show GROUP KEY`` prints one answer, to be compared by eye.
"""

from __future__ import annotations

import argparse
import sys

from tests.frozen.groups import GROUPS, answers_of
from tests.frozen.ledger import differences, digest_of, read_ledger, write_ledger


def main() -> int:
    """Run the command line; returns the exit status."""
    parser = argparse.ArgumentParser(prog="python -m tests.frozen", description=__doc__)
    parser.add_argument("action", choices=("check", "write", "show"))
    parser.add_argument("names", nargs="*", metavar="GROUP", help=f"of: {', '.join(GROUPS)}; all without one")
    options = parser.parse_args()
    if options.action == "show":
        group, key = options.names
        sys.stdout.write(dict(answers_of(group))[key])
        return 0
    changed = 0
    for group in options.names or GROUPS:
        found = {key: digest_of(text) for key, text in answers_of(group)}
        if options.action == "write":
            write_ledger(group, found)
            print(f"{group}: {len(found)} answers frozen")
            continue
        lines = differences(read_ledger(group), found)
        changed += len(lines)
        print(f"{group}: {len(found)} answers, {len(lines)} changed")
        print("".join(f"  {line}\n" for line in lines), end="")
    return 1 if changed else 0


if __name__ == "__main__":
    sys.exit(main())
