"""How often a long test tries: quickly in README's command, in full in a study, a tenth of that in CI.

``python -m tests.studies`` sets the environment setting FITCHECK_TESTS to ``full`` or ``tenth``.
"""

from __future__ import annotations

import os

__all__ = ["in_study", "tries"]

_HOW = os.environ.get("FITCHECK_TESTS", "quick")


def tries(quick: int, *, full: int) -> int:
    """``full`` in a study, a tenth of it (but not less than ``quick``) in CI, ``quick`` otherwise."""
    return {"full": full, "tenth": max(quick, full // 10), "quick": quick}[_HOW]


def in_study() -> bool:
    """Whether what takes long and says little more is tried too."""
    return _HOW != "quick"
