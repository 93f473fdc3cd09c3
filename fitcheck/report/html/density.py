"""How closely a report is set so that each foot comes on one A4 page: reckoned here, since a browser cannot be asked.

Heights are those of ``paper.css``; ``tests/fitcheck/report/test_paper.py`` has a browser print what comes of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from fitcheck.view import AssessmentView, FindingView

__all__ = ["DENSITIES", "PaperFoot", "density_of"]


class PaperFoot(NamedTuple):
    """What of one foot takes room on a page."""

    view: AssessmentView
    facts: Sequence[str]
    """Labels with what stands behind them."""
    notes: str
    changes: Sequence[str]
    """What assessors changed, with their reasons."""
    cautions: Sequence[str] = ()
    """Those that stand on its own page."""


class _Setting(NamedTuple):
    """One way to set a page: its classes, the size of its text in pt, the height of its drawing in mm."""

    classes: str
    size: float
    drawing: float
    terse: bool = False
    """Whether reasons and sources of findings are left out."""


_SETTINGS: Final = (
    _Setting(" roomy", 9, 105),
    _Setting("", 9, 82),
    _Setting(" denser", 8, 72),
    _Setting(" densest", 7, 60),
    _Setting(" densest terse", 7, 52, terse=True),
    _Setting(" densest terse least", 6, 38, terse=True),
)
DENSITIES: Final = tuple(each.classes for each in _SETTINGS)
"""Classes of a page's body besides ``paper``, the loosest first."""
_PAGE_MM: Final = 272.0
"""An A4 page between its margins, less what line breaks may differ by."""
_MM_PER_PT: Final = 25.4 / 72
_LINE: Final = 1.3
_WIDE_MM: Final = 186.0
_LETTER: Final = 0.50
"""Width of a letter on average, as a share of the size of the text."""
_FOUND: Final = 0.46
_MEASURED: Final = 0.42
"""Shares of the page that two columns of a table of findings have."""
_ROWS: Final = 0.8
"""What rows of a table take of what is reckoned for them: most lines are not full in both columns."""
_FRAME_MM: Final = 82.0
"""Title, decision and headings."""


def density_of(feet: Iterable[PaperFoot]) -> str:
    """The classes of the loosest setting in which each of ``feet`` comes on a page, or else of the closest."""
    every = list(feet)
    for setting in _SETTINGS:
        if all(_height(foot, setting) <= _PAGE_MM for foot in every):
            return setting.classes
    return DENSITIES[-1]


def _height(foot: PaperFoot, setting: _Setting) -> float:
    """How high a foot stands, in mm."""
    view, line = foot.view, setting.size * _MM_PER_PT * _LINE
    lines = _lines(" ".join(foot.cautions), 1, setting) + _lines("".join(foot.facts), 1, setting) + 2
    lines += _lines(foot.notes, 1, setting)
    besides = [*view.before.better, *view.before.worse, *view.before.left, *view.before.earlier]
    lines += sum(_lines(each, 0.95, setting) for each in (*(need.text for need in view.needed), *besides))
    rows = sum(_lines(each, 0.8, setting) + 0.4 for each in view.actions)
    rows += sum(_finding_lines(each, setting) + 0.4 for each in view.findings)
    rows += sum(_lines(each, 0.5, setting) + 0.4 for each in foot.changes)
    signatures = 4 * 2.4 + 2
    return _FRAME_MM + setting.drawing + line * (lines + _ROWS * rows + signatures)


def _finding_lines(finding: FindingView, setting: _Setting) -> float:
    found: float = _lines(f"{finding.place_name}: {finding.text}", _FOUND * 0.92, setting)
    if finding.grade == "minor":
        found += _lines(finding.action, _FOUND, setting)
    if not setting.terse:
        found += 0.8 * _lines(f"{finding.criterion}. {finding.why} {finding.sources}", _FOUND * 1.2, setting)
    small = () if setting.terse else (finding.where, finding.carried, finding.sure)
    measured = sum(_lines(each, _MEASURED, setting) for each in (finding.basis, finding.limit, *small))
    return max(found, measured)


def _letters(share: float, setting: _Setting) -> float:
    return _WIDE_MM * share / (setting.size * _MM_PER_PT * _LETTER)


def _lines(text: str, share: float, setting: _Setting) -> int:
    """Lines that a text takes in a column of that share of the page; 0 without one."""
    return math.ceil(len(text) / _letters(share, setting))
