"""Take off the awaited lists what the rulebook says by now: ``python -m tests.awaited``.

The lists stand beside the handbook feet, the demo feet and the printed figures.  Nothing is ever put on one here.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Final

import pytest

from tests.support.paths import ROOT
from tests.support.whole_feet import HANDBOOK

LISTS: Final = (
    HANDBOOK / "awaited.txt",
    ROOT / "tests" / "cases" / "demo_feet" / "awaited.txt",
    ROOT / "tests" / "reference" / "data" / "printed_limits_awaited.txt",
)
TESTS: Final = ("test_handbook_cases.py", "test_demo_cases.py", "reference/test_printed_limits.py")


class Agreeing:
    """Collects the tests that passed although they were awaited."""

    def __init__(self) -> None:
        self.tests: set[str] = set()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Called by pytest with the outcome of each step of a test."""
        if report.failed and str(report.longrepr).startswith("[XPASS(strict)]"):
            self.tests.add(report.nodeid)


def still_awaited(lines: Iterable[str], agreeing: Iterable[str]) -> list[str]:
    """The ``lines`` without those that name one of the tests, whose names end in the line in brackets."""
    endings = [test.rpartition("[")[2] for test in agreeing]
    return [line for line in lines if not any(f" {ending}".endswith(f" {line}]") for ending in endings)]


def main() -> None:
    """Run the three tests and shorten the lists."""
    found = Agreeing()
    pytest.main(["-q", "--no-header", "--tb=no", *(str(ROOT / "tests" / name) for name in TESTS)], plugins=[found])
    for path in LISTS:
        shorten(path, found.tests)


def shorten(path: Path, agreeing: Iterable[str]) -> None:
    """Write one list anew where something leaves it."""
    lines = path.read_text(encoding="utf-8").splitlines()
    left = still_awaited(lines, agreeing)
    if left != lines:
        path.write_text("\n".join(left) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
