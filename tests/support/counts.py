"""How often a long test tries: enough to find a fault in every run, and in full with FITCHECK_TESTS=full."""

from __future__ import annotations

import os

__all__ = ["tries"]


def tries(usual: int, *, full: int) -> int:
    """``full`` where the setting FITCHECK_TESTS asks for that, otherwise ``usual``."""
    return full if os.environ.get("FITCHECK_TESTS") == "full" else usual
