"""The plots of somebody's progress: plain SVG without script or style, all of it told in words too."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from xml.etree import ElementTree as ET

import pytest

from fitcheck.assessment.models import Finding
from fitcheck.marking import mark_of
from fitcheck.marking.progress import DatedSheet, Progress, progress_of
from fitcheck.marking.progress_plots import marks_plot, shares_plot
from rules import Rulebook
from tests.support.marked import BOOK, assessed, finding

SVG = "{http://www.w3.org/2000/svg}"
TIGHT = finding("heel_fit", "major", "medial_heel")
FLINCH = finding("nails", "critical", "nail:medial:2", rule="nail-flinch")
Plot = Callable[[Progress, Rulebook], str]
PLOTS: tuple[Plot, ...] = (marks_plot, shares_plot)


def foot(number: int, *findings: Finding, **edits: str) -> DatedSheet:
    said = assessed(*findings, id=f"A-{number}", **edits)
    return DatedSheet(date(2026, 3, 2) + timedelta(days=number), None, mark_of(said, BOOK))


SEEN = progress_of(
    [foot(0, TIGHT), foot(5), foot(7, without="finish"), foot(10, FLINCH, decision="stop_and_refer")], BOOK
)
ODD = replace(
    BOOK,
    title='<script>alert("1")</script> & more',
    marking_table={
        **BOOK.marking_table,
        "bands": {
            name: {**band, "title": f"<b>{name}</b> & 'so'"} for name, band in BOOK.marking_table["bands"].items()
        },
    },
)


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  (made here)


def texts(root: ET.Element) -> list[str]:
    return ["".join(each.itertext()) for each in root.iter(f"{SVG}text")]


@pytest.mark.parametrize("plot", PLOTS)
@pytest.mark.parametrize("progress", [SEEN, progress_of([], BOOK)], ids=["seen", "nothing"])
def test_a_plot_is_svg_with_title_and_description_and_nothing_that_a_strict_page_forbids(
    plot: Plot, progress: Progress
) -> None:
    svg = plot(progress, BOOK)
    root = parsed(svg)
    assert (root.tag, root.get("role")) == (f"{SVG}svg", "img")
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert (root[1].text or "").strip()
    assert {each.tag.removeprefix(SVG) for each in root.iter()} <= {
        "path",
        "svg", "title", "desc", "g", "rect", "line", "circle", "text",
    }  # fmt: skip
    for each in root.iter():
        assert not [name for name in each.attrib if name == "style" or name.startswith("on") or "href" in name]
    assert plot(progress, BOOK) == svg


@pytest.mark.parametrize("plot", PLOTS)
def test_text_of_a_rulebook_never_turns_into_markup(plot: Plot) -> None:
    svg = plot(progress_of([foot(0)], ODD), ODD)
    assert "<script" not in svg
    assert "<b>" not in svg
    assert ODD.title in (parsed(svg)[0].text or "")


@pytest.mark.parametrize("plot", PLOTS)
def test_everything_lies_on_the_sheet_and_only_greys_are_used(plot: Plot) -> None:
    root = parsed(plot(SEEN, BOOK))
    _, _, width, height = map(float, (root.get("viewBox") or "").split())
    for each in root.iter():
        for name in ("x", "x1", "x2", "cx"):
            assert 0 <= float(each.get(name, 0)) <= width
        for name in ("y", "y1", "y2", "cy"):
            assert 0 <= float(each.get(name, 0)) <= height
        for name in ("fill", "stroke"):
            colour = each.get(name)
            assert colour is None or re.fullmatch(r"#(..)\1\1", colour)


def test_each_mark_stands_at_its_height_and_day_and_what_has_none_has_a_sign_of_its_own() -> None:
    """By hand: 89 % lies 89 of 100 of the way up from the line of 0 %."""
    root = parsed(marks_plot(SEEN, BOOK))
    marks = [each for each in root.iter(f"{SVG}g") if each.find(f"{SVG}title") is not None]
    assert [each.findtext(f"{SVG}title") for each in marks] == [
        "2026-03-02, left fore: 89 %, good work",
        "2026-03-07, left fore: 100 %, clean work",
        "2026-03-09, left fore: no whole mark",
        "2026-03-12, left fore: stopped, no mark",
    ]
    assert [[child.tag.removeprefix(SVG) for child in each][1:] for each in marks] == [
        ["circle"], ["circle"], ["circle"], ["line", "line"],
    ]  # fmt: skip
    dots = [each.find(f"{SVG}circle") for each in marks[:3]]
    x, y = ([float(dot.get(name, "nan")) for dot in dots if dot is not None] for name in ("cx", "cy"))
    lines = {float(line.get("y1", 0)) for line in root.iter(f"{SVG}line") if line.get("y1") == line.get("y2")}
    top, bottom = min(lines), max(lines)
    assert y[0] == pytest.approx(bottom - 0.89 * (bottom - top))
    assert y[1] == pytest.approx(top)
    assert y[2] > bottom
    assert (x[2] - x[0]) / (x[1] - x[0]) == pytest.approx(7 / 5)
    assert dots[2] is not None
    assert dots[0] is not None
    assert dots[2].get("fill") != dots[0].get("fill")


def test_each_share_stands_within_its_interval() -> None:
    root = parsed(shares_plot(SEEN, BOOK))
    said = texts(root)
    assert [each.title for each in SEEN.criteria] == [text for text in said if text in {c.title for c in SEEN.criteria}]
    assert "3 of 4" in said  # the heels
    for dot in root.iter(f"{SVG}circle"):
        level = [line for line in root.iter(f"{SVG}line") if line.get("y1") == line.get("y2") == dot.get("cy")]
        (bar,) = level
        assert float(bar.get("x1", 0)) <= float(dot.get("cx", 0)) <= float(bar.get("x2", 0))


def test_what_is_drawn_is_told_in_the_description() -> None:
    assert all(each.say in (parsed(shares_plot(SEEN, BOOK))[1].text or "") for each in SEEN.criteria)
    told = parsed(marks_plot(SEEN, BOOK))[1].text or ""
    assert SEEN.trend.say in told
    assert "2026-03-12, left fore: stopped, no mark." in told


def test_a_line_of_the_means_runs_in_a_band_from_the_least_to_the_greatest_mark_of_each_day() -> None:
    worse = finding("nails", "major", "nail:medial:1")
    feet = [foot(0), foot(0, TIGHT), foot(10), foot(10, worse)]
    feet = [each._replace(visit=f"v-{number}") for number, each in enumerate(feet)]
    root = parsed(marks_plot(progress_of(feet, BOOK), BOOK))
    [band] = root.iter(f"{SVG}path")
    dots = [(float(each.get("cx", "")), float(each.get("cy", ""))) for each in root.iter(f"{SVG}circle")]
    ends = {tuple(float(part) for part in point.split()) for point in band.get("d", "")[1:-1].split("L")}
    assert ends == {(round(x, 2), round(y, 2)) for x, y in dots}
    [mean] = [each for each in root.iter(f"{SVG}line") if each.get("stroke-width") == "1.7"]
    firsts = [y for x, y in dots if x == min(x for x, _ in dots)]
    assert float(mean.get("y1", "")) == pytest.approx(sum(firsts) / 2, abs=0.01)
    assert {"2026-03-02", "2026-03-12"} <= set(texts(root))


def test_one_day_has_no_line() -> None:
    assert not list(parsed(marks_plot(progress_of([foot(0)], BOOK), BOOK)).iter(f"{SVG}path"))
