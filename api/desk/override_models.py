"""Overrides as they are listed."""

from __future__ import annotations

from fitcheck.assessment import Output
from fitcheck.marking.overrides import Override

__all__ = ["KeptOverrides"]


class KeptOverrides(Output):
    """What assessors changed in the marks of one assessment, in the order of keeping."""

    overrides: tuple[Override, ...]
    erased: int
    """How many more there were whose content was erased on a person's demand."""
