"""Where the project lies."""

from __future__ import annotations

from pathlib import Path
from typing import Final

__all__ = ["CASES", "ROOT"]

ROOT: Final = Path(__file__).parents[2]
"""The folder of the project."""
CASES: Final = ROOT / "cases_demo"
"""The demo fittings."""
