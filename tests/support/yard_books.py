"""Yards' own books for tests: an identity, a source for a figure, and the folder made of its files' texts."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import pytest

from rules import RulebookError, load_rulebook

__all__ = ["IDENTITY", "OURS", "OWN_RULE", "THICKER_IRON", "off", "refused", "yard_folder"]

IDENTITY: Final = """[book]
id = "low-meadow"
title = "Low Meadow, own book"
version = "0.1"
inherits = "shipped"
inherits_version = "2"
"""
OURS: Final = 'status = "common practice"\nsources = ["trade"]\nbasis = "Common practice of the yard."\n'
"""The standing of a figure that the yard has set."""


OWN_RULE: Final = f"""[rules.heel-bare]
quantity = "frog_gap"
grade = "major"
fires = "simple"
low = -20
unit = "mm"
{OURS}finding = "The branch lies {{size}} over the frog."
order = "iron"
caution = "own"
[rules.heel-bare.action]
hot_fit = "Open it."
nailed = "Open it."
finished = "Open it."
"""
"""A rule of the yard's own on the room at the frog."""

THICKER_IRON: Final = """[quantities.shoe_thickness]
range = [14, 30]
range_status = "common practice"
range_basis = "No thinner iron is used here."
"""
"""A dimensions.toml that refuses what the shipped range allows."""


def off(*rule_ids: str, section: str = "rules", basis: str = "Not in this yard.") -> str:
    """Tables that switch these rules off."""
    return "".join(f'[{section}.{rule_id}]\noff = true\nbasis = "{basis}"\n' for rule_id in rule_ids)


def yard_folder(folder: Path, book: str = IDENTITY, /, **files: str) -> Path:
    """``folder`` with a book.toml and the other files (``heel_fit`` for heel_fit.toml) of these texts."""
    for name, text in {"book": book, **files}.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def refused(folder: Path) -> RulebookError:
    """The error with which the book of this folder is refused: a whole sentence, and nothing internal."""
    with pytest.raises(RulebookError) as caught:
        load_rulebook(folder)
    error = caught.value
    assert str(error) == f"{error.file}: {error.key}: {error.problem}. {error.remedy}"
    assert re.search(r"pydantic|Input should|Traceback|NoneType", str(error)) is None, str(error)
    return error
