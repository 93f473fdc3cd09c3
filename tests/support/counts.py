"""How often a long test tries: quickly in README's command, in full in a study, or a tenth of that.

The environment setting FITCHECK_TESTS is ``full`` or ``tenth``; ``python -m tests.studies`` sets it.
"""

from __future__ import annotations

import os

__all__ = ["tries"]

_HOW = os.environ.get("FITCHECK_TESTS", "quick")


def tries(quick: int, *, full: int) -> int:
    """``full`` in a study, a tenth of it (but not less than ``quick``) in CI, ``quick`` otherwise."""
    return {"full": full, "tenth": max(quick, full // 10), "quick": quick}[_HOW]
