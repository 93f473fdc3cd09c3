"""The width of the terminal, as :func:`shutil.get_terminal_size` tells it.

With that module come three kinds of compression, 3 ms of a cold start.
"""

from __future__ import annotations

import os
import sys

__all__ = ["terminal_columns"]


def terminal_columns(otherwise: int) -> int:
    """The columns that COLUMNS says, else those of the terminal, else ``otherwise``."""
    try:
        columns = int(os.environ["COLUMNS"])
    except (KeyError, ValueError):
        columns = 0
    if columns > 0:
        return columns
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or otherwise  # type: ignore[union-attr]  # may be None
    except (AttributeError, ValueError, OSError):
        return otherwise
