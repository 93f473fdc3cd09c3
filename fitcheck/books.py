"""Which rulebook judges: the shipped one, or a folder that is named or set."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from rules import Rulebook, load_rulebook, shipped_rulebook

__all__ = ["SETTING", "SHIPPED", "book_named"]

SETTING: Final = "FITCHECK_RULEBOOK"
"""The environment setting that names the folder of the rulebook where nothing else does."""

SHIPPED: Final = "shipped"
"""Names the shipped rulebook where a folder may be named."""


def book_named(name: str | None = None) -> Rulebook:
    """The rulebook in the folder ``name``; without one that of the setting, and without that the shipped one.

    Raises rules.RulebookError where it does not load.
    """
    name = name or os.environ.get(SETTING) or SHIPPED
    return shipped_rulebook() if name == SHIPPED else load_rulebook(Path(name))
