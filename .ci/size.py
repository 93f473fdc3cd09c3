"""Fail when a module has more lines than one idea needs."""

from __future__ import annotations

import sys
from pathlib import Path

MOST_LINES = 400

root = Path(__file__).parents[1]
long = [
    f"{path.relative_to(root)}: {lines} lines, {MOST_LINES} at most: split it by idea"
    for folder in ("api", "fitcheck", "rules", "tests", "cases_demo", "examples", "benchmarks", ".ci")
    for path in sorted((root / folder).rglob("*.py"))
    if (lines := len(path.read_text(encoding="utf-8").splitlines())) > MOST_LINES
]
print("\n".join(long), end="\n" if long else "")
sys.exit(bool(long))
