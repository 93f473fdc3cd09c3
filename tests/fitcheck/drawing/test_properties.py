"""Whatever the fitting: the drawing is one well-formed, harmless, bounded document, the same every time."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.drawing import draw
from fitcheck.fitting.validation import parse_fitting
from rules import shipped_rulebook
from tests.support.drawings import Drawn, drawn, every_point, number_of, tag_of, tree_of
from tests.support.random_fittings import random_fittings

Change = Callable[..., dict[str, Any]]
TAGS = {"svg", "title", "desc", "g", "rect", "circle", "line", "path", "text"}
ATTRIBUTES = {
    *("class", "d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "width", "height", "viewBox", "transform"),
    *("fill", "fill-rule", "stroke", "stroke-width", "stroke-dasharray", "stroke-linejoin", "stroke-linecap"),
    *("font-family", "font-size", "font-style", "font-weight", "text-anchor"),
    *("id", "role", "lang", "aria-labelledby", "{http://www.w3.org/XML/1998/namespace}lang"),
}
HOSTILE = (
    "<script>alert(1)</script>",
    '"onload="alert(1)',
    "'><img src=x onerror=alert(1)>",
    "]]>&lt;![CDATA[<!ENTITY x SYSTEM 'file:///etc/passwd'>&x;",
    "{foot} %s \u202egnp.exe \ufffe\ufdd0 \U0001f40e 馬馬馬馬馬馬馬馬",
    "W" * 64,
)


def harmless(drawing: Drawn) -> None:
    """Only known elements and attributes, no script, handler, style or reference, and nothing outside the sheet."""
    root = drawing.root
    for each in root.iter():
        assert tag_of(each) in TAGS
        assert {name for name in each.attrib if not name.startswith("data-")} <= ATTRIBUTES
        assert not any("url(" in value or "javascript" in value.casefold() for value in each.attrib.values())
    assert (root.get("role"), root[0].tag.rpartition("}")[2], root[1].tag.rpartition("}")[2]) == (
        "img",
        "title",
        "desc",
    )
    assert root.get("aria-labelledby", "").split() == [root[0].get("id"), root[1].get("id")]
    assert all((root[number].text or "").strip() for number in (0, 1))
    _, _, width, height = map(float, (root.get("viewBox") or "").split())
    for shape, (x, y) in every_point(root):
        assert 0 <= x <= width, (shape.attrib, shape.text)
        assert 0 <= y <= height, (shape.attrib, shape.text)


@pytest.mark.parametrize("seed", range(6))
def test_a_random_fitting_is_always_drawn_and_always_within_the_sheet(seed: int) -> None:
    for document in random_fittings(1000 + seed, 12):
        drawing = drawn(document, form="sheet" if seed % 2 else "column")
        harmless(drawing)
        assert len(drawing.text.encode()) < 250_000
        assert len(drawing.all("entry")) == len(drawing.assessment.findings)


def test_readings_at_the_ends_of_their_ranges_stay_within_the_sheet(changed: Change) -> None:
    for end in (0, 1):

        def extreme(quantity: str, end: int = end) -> float:
            return (shipped_rulebook().quantities[quantity].range or (0, 0))[end]

        harmless(
            drawn(
                changed(
                    hoof={name: extreme(name) for name in ("wall_thickness", "wall_height", "wall_angle")},
                    shoe={"thickness": extreme("shoe_thickness"), "length": extreme("shoe_length")},
                    observations__heel_fit={
                        side: {name: extreme(name) for name in ("length", "width", "frog_gap")}
                        for side in ("medial", "lateral")
                    },
                    observations__toe_fit={
                        name: extreme("overhang") for name in ("overhang", "medial_overhang", "lateral_overhang")
                    },
                    observations__nails=[
                        {
                            "branch": branch,
                            "hole": hole,
                            **{
                                name: extreme(name) for name in ("exit_height", "position", "hole_inset", "wall_height")
                            },
                        }
                        for branch in ("medial", "lateral")
                        for hole in range(1, 7)
                    ],
                )
            )
        )


def test_many_arcs_and_long_traces_make_no_endless_drawing(changed: Change) -> None:
    arcs = [[-150 + step * 0.15, -149.95 + step * 0.15] for step in range(2000)]
    drawing = drawn(changed(observations__scorch__arcs=arcs))
    assert len(drawing.text) < 1_000_000


@pytest.mark.parametrize("text", HOSTILE)
def test_a_hostile_text_is_shown_as_text_or_not_at_all(text: str, changed: Change) -> None:
    name = re.sub(r"[\x00-\x1f\x7f]", "", text)[:64]
    fitting = parse_fitting(
        changed(horse={"id": name}, visit=name, person={"id": "A-3", "role": "apprentice"}, notes=text), None
    )
    book = shipped_rulebook()
    assessment = assess(fitting, book)
    tight = assess(parse_fitting(changed(observations__heel_fit__lateral__width=-2), book), book)
    hostile = [each.model_copy(update={"finding": text}) for each in tight.findings]
    assessment = assessment.model_copy(update={"findings": tuple(hostile)})
    drawing = Drawn(fitting, assessment, draw(fitting, assessment, book))
    harmless(drawing)
    assert "<script" not in drawing.text
    assert "<img" not in drawing.text
    assert "\u202e" not in drawing.text
    assert not re.search(r'="[^"]*"onload', drawing.text)
    assert text.split(maxsplit=1)[0][:12] in "".join(drawing.root.itertext())


def test_the_same_assessment_gives_the_same_text(good: dict[str, Any]) -> None:
    book = shipped_rulebook()
    fitting = parse_fitting(good, book)
    first, second = assess(fitting, book), assess(fitting, book)
    assert first.id != second.id
    assert draw(fitting, first, book) == draw(fitting, second, book)


def test_a_drawing_is_as_wide_as_a_telephone_and_a_sheet_as_two(good: dict[str, Any]) -> None:
    narrow, wide = drawn(good).root, drawn(good, form="sheet").root
    assert number_of(narrow, "width") == 360
    assert number_of(wide, "width") == 744
    # A4 is 1.41 times as high as wide, less its margins.
    assert number_of(wide, "height") / number_of(wide, "width") < 1.35
    sizes = [number_of(each, "font-size") for each in narrow.iter() if tag_of(each) == "text"]
    assert min(sizes) >= 8


def test_two_drawings_in_one_page_have_ids_of_their_own(good: dict[str, Any]) -> None:
    ids = [
        {each.get("id") for each in drawn(good, prefix=prefix).root.iter() if each.get("id")}
        for prefix in ("before", "after")
    ]
    assert ids == [{"before-title", "before-desc"}, {"after-title", "after-desc"}]


@pytest.mark.parametrize("prefix", ["", "1st", 'a"b', "a b", "<a>", "x" * 41])
def test_a_prefix_that_is_no_plain_name_is_refused(prefix: str, good: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="prefix"):
        drawn(good, prefix=prefix)


@pytest.mark.parametrize("edit", [{"foot": "right_fore"}, {"stage": "nailed"}])
def test_an_assessment_of_another_foot_is_refused(edit: dict[str, str], good: dict[str, Any], changed: Change) -> None:
    book = shipped_rulebook()
    other = parse_fitting(changed(**edit), book)
    with pytest.raises(ValueError, match="not of this fitting"):
        draw(other, assess(parse_fitting(good, book), book), book)


def test_a_drawing_is_one_document_and_nothing_after_it(good: dict[str, Any]) -> None:
    text = drawn(good).text
    assert text.startswith("<svg ")
    assert text.endswith("</svg>")
    assert tag_of(tree_of(text)) == "svg"
