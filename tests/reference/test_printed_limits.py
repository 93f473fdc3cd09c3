"""What the handbooks of shoeing print, against what the shipped rulebook makes of a whole foot with that figure.

``data/printed_limits.toml`` has each printed figure with its fact, source and page.  Figures are converted here: the
inch is 25.4 mm exactly (international yard and pound agreement, 1959), the pound 0.45359237 kg (the same), an ounce a
sixteenth of it, a month a twelfth of the mean Gregorian year of 365.2425 days.  Readings are sent without uncertainty,
so that a limit is met exactly.  What the rulebook does not yet say is listed in ``data/printed_limits_awaited.txt``;
a row that begins to hold fails until it leaves that list.

LA, USDA, HU, FL: as in ``tests/test_handbook_cases.py``.  Pages are the printed ones, of FL those of the scan.
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

import pytest
from pydantic import Field, model_validator

from fitcheck import Assessment, Fitting, assess
from tests.support.limit_cases import Strict
from tests.support.whole_feet import Changes, Expected, lines_of

DATA: Final = Path(__file__).parent / "data"
AWAITED: Final = lines_of(DATA / "printed_limits_awaited.txt")

INCH: Final = Fraction(254, 10)
POUND: Final = Fraction(45359237, 100000000)
UNITS: Final = {
    "mm": Fraction(1),
    "in": INCH,
    "deg": Fraction(1),
    "s": Fraction(1),
    "lb": POUND,
    "oz": POUND / 16,
    "weeks": Fraction(7),
    "": Fraction(1),
}
MONTH: Final = Fraction(3652425, 10000) / 12
"""Days."""
DIMENSIONS: Final = {
    "thickness": "shoe.thickness",
    "wall": "hoof.wall_thickness",
    "wall height": "hoof.wall_height",
}
HAIR: Final = Fraction(1, 100)
"""How far beyond an edge it is tried, in the unit of the field."""
FITTED: Final = date(2026, 3, 4)

_NUMBER: Final = re.compile(r"(-)?(?:(\d+) )?(\d+)(?:/(\d+))?")


def number(printed: str) -> Fraction:
    """A number such as ``7``, ``5/8`` or ``1 5/8``."""
    found = _NUMBER.fullmatch(printed)
    assert found is not None, printed
    sign, whole, over, under = found.groups()
    return (int(whole or 0) + Fraction(int(over), int(under or 1))) * (-1 if sign else 1)


def figure(printed: str, foot: dict[str, Any]) -> Fraction:
    """A printed figure in the unit of its field: ``5/8 in``, ``2/3 x thickness``, or the sum of two such."""
    if " + " in printed:
        first, _, second = printed.partition(" + ")
        return figure(first, foot) + figure(second, foot)
    times, multiplied, dimension = printed.partition(" x ")
    if multiplied:
        size = at(foot, DIMENSIONS[dimension])
        return number(times) * Fraction(str(size["value"] if isinstance(size, dict) else size))
    found = re.fullmatch(r"(.*?\d)(?: ([a-z]+))?", printed)
    assert found is not None, printed
    return number(found[1]) * UNITS[found[2] or ""]


def at(foot: dict[str, Any], path: str) -> Any:
    """What stands at a dotted path; a nail in a list by ``branch:hole``, another item by its number."""
    here: Any = foot
    for step in path.split("."):
        if ":" in step:
            branch, _, hole = step.partition(":")
            (here,) = [item for item in here if (item["branch"], item["hole"]) == (branch, int(hole))]
        else:
            here = here[int(step)] if step.isdecimal() else here[step]
    return here


class PrintedLimit(Changes):
    """One printed figure: where it stands, on which foot it is tried, and what is found there."""

    says: str = Field(min_length=8)
    fact: str
    source: str
    like: str
    find: Expected
    field: str | None = None
    low: str | None = None
    high: str | None = None
    right: list[str] = Field(default_factory=list)
    value: str | None = None
    target: str | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> PrintedLimit:
        kinds = [self.low is not None, self.high is not None, bool(self.right), self.target is not None]
        if sum(kinds) != (0 if self.field is None else 1) or (self.target is None) != (self.value is None):
            raise ValueError("a field has one of low, high, right, or value with target")
        if (self.low or self.high) and self.find.grade is None:
            raise ValueError("an edge needs its grade")
        return self

    @property
    def codes(self) -> set[str]:
        """The sources, without their pages."""
        return {part.split()[0] for part in self.source.split("; ")}

    def assessed(self, size: Fraction | None = None) -> Assessment:
        """The assessment of the foot with ``size`` in its field."""
        foot = self.applied()
        if size is not None:
            assert self.field is not None
            _set(foot, self.field, size)
        return assess(Fitting.model_validate(foot))

    def matches(self, size: Fraction | None = None) -> list[str]:
        """The findings that are meant, by name; one that does not name a source of the figure is no match."""
        return [
            finding.id
            for finding in self.assessed(size).findings
            if self.find.means(finding) and (self.find.grade is None or self.codes & set(finding.sources))
        ]


def _set(foot: dict[str, Any], field: str, size: Fraction) -> None:
    if field == "days since shod":
        foot["observations"]["history"]["last_shod"] = (FITTED - timedelta(days=round(size))).isoformat()
        return
    if field == "growth in a month":
        history = foot["observations"]["history"]
        days = (FITTED - date.fromisoformat(history["last_shod"])).days
        history["old_hole_drop"] = {"value": float(size * days / MONTH), "u": 0}
        return
    path, _, last = field.rpartition(".")
    at(foot, path)[last] = {"value": float(size), "u": 0}


class PrintedLimits(Strict):
    """All of them."""

    limit: list[PrintedLimit]


ROWS: Final = PrintedLimits.model_validate(
    tomllib.loads((DATA / "printed_limits.toml").read_text(encoding="utf-8"))
).limit


def _row(row: PrintedLimit) -> Any:
    reason = "printed_limits_awaited.txt: the rulebook does not yet say so"
    marks = [pytest.mark.xfail(strict=True, reason=reason, raises=AssertionError)] if row.says in AWAITED else []
    return pytest.param(row, id=f"{row.fact} {row.says}", marks=marks)


def check(row: PrintedLimit) -> None:
    """That the rulebook has the row's figure: no match up to it, and one beyond."""
    foot = row.applied()
    for edge, outward in ((row.low, -1), (row.high, 1)):
        if edge is not None:
            size = figure(edge, foot)
            hair = Fraction(1) if row.field == "days since shod" else HAIR
            assert row.matches(size) == [], f"on the edge, {edge}"
            assert row.matches(size - outward * hair) == [], f"within the edge, {edge}"
            assert row.matches(size + outward * hair) != [], f"beyond the edge, {edge}"
    for printed in row.right:
        assert row.matches(figure(printed, foot)) == [], printed
    if row.target is not None and row.value is not None:
        value, target = figure(row.value, foot), figure(row.target, foot)
        amounts = [found.amount for found in row.assessed(value).findings if row.find.means(found)]
        assert amounts == [pytest.approx(float(target - value))]
    if row.field is None:
        assert bool(row.matches()) == (row.find.grade is not None)


@pytest.mark.parametrize("row", [_row(row) for row in ROWS])
def test_the_rulebook_has_what_is_printed(row: PrintedLimit) -> None:
    check(row)


def test_every_awaited_row_is_there_and_every_row_has_its_own_words() -> None:
    assert sorted(set(AWAITED) - {row.says for row in ROWS}) == []
    assert [says for says, times in Counter(row.says for row in ROWS).items() if times > 1] == []
    assert [says for says, times in Counter(AWAITED).items() if times > 1] == []


@pytest.mark.parametrize(
    ("printed", "size"),
    [
        ("1 5/8 in", "41.275"),
        ("1/16 in", "1.5875"),
        ("-1/2 x wall", "-6"),
        ("1 x thickness + 1/4 in", "18.35"),
        ("18 oz", "0.5102914162"),
        ("3 1/2 lb", "1.587573295"),
        ("6 weeks", "42"),
        ("11/20", "0.55"),
    ],
)
def test_a_printed_figure_is_converted(printed: str, size: str) -> None:
    foot = {"shoe": {"thickness": 12}, "hoof": {"wall_thickness": {"value": 12, "u": 0}}}
    assert float(figure(printed, foot)) == pytest.approx(float(size), abs=1e-9)


@pytest.mark.parametrize("edge", ["1 9/16 in", "1 11/16 in"])
def test_a_figure_a_sixteenth_off_is_noticed(edge: str) -> None:
    row = next(row for row in ROWS if row.high == "1 5/8 in").model_copy(update={"high": edge})
    with pytest.raises(AssertionError):
        check(row)
