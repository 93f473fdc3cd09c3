"""Bold headings on a terminal, none in a pipe or a file."""

from __future__ import annotations

import os
from typing import TextIO

from fitcheck.report.terminal import Paint, plain, strong

__all__ = ["paint_for"]


def paint_for(stream: TextIO) -> Paint:
    """How headings are painted on ``stream``; NO_COLOR and a dumb terminal are honoured."""
    bold = stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    return strong if bold else plain
