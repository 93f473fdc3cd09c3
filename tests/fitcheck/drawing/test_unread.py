"""What was not observed is drawn as not assessed, never as good; findings stand at their places."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import Any

import pytest

from fitcheck.drawing.shades import GRADES, INK, PAPER, UNSEEN
from fitcheck.text.format import place_title
from rules import shipped_rulebook
from tests.support.drawings import Drawn, drawn, number_of, points_of, tag_of

Change = Callable[..., dict[str, Any]]
FEET = ("left_fore", "right_fore", "left_hind", "right_hind")


def bare(foot: str = "left_fore", stage: str = "finished", **observations: Any) -> dict[str, Any]:
    return {"foot": foot, "stage": stage, "work": "draught", "observations": observations}


def described(drawing: Drawn) -> str:
    return drawing.root[1].text or ""


@pytest.mark.parametrize(("foot", "stage"), list(product(FEET, ("hot_fit", "nailed", "finished"))))
def test_a_foot_of_which_nothing_is_known_is_drawn_all_dashed(foot: str, stage: str) -> None:
    drawing = drawn(bare(foot, stage))
    edges = drawing.all("edge")
    assert len(edges) >= 9
    assert all(each.get("data-known") == "no" and each.get("stroke-dasharray") for each in edges)
    assert drawing.one("white-line").get("stroke-dasharray")
    assert drawing.all("offset") == drawing.all("beyond") == drawing.all("marked") == drawing.all("nail") == []
    assert drawing.said.count("iron: not read") == drawing.said.count("gap: not read") == 5
    assert drawing.said.count("length: not read") == drawing.said.count("frog: not read") == 2
    assert "imprint not read" in drawing.said
    assert drawing.said.count("nails: not assessed") == (0 if stage == "hot_fit" else 2)
    assert "Not assessed: " in described(drawing)


def test_one_reading_that_is_missing_leaves_only_its_own_place_dashed(changed: Change) -> None:
    whole = drawn(changed())
    assert {each.get("data-known") for each in whole.all("edge")} == {"yes"}
    lacking = drawn(changed(observations__heel_fit__lateral__width=...))
    dashed = [each for each in lacking.all("edge") if each.get("data-known") == "no"]
    assert [(each.get("class"), each.get("data-place")) for each in dashed] == [("edge outer", "lateral_heel")]
    assert lacking.said.count("iron: not read") == 1
    assert whole.said.count("iron: not read") == 0


def test_a_clinch_that_was_not_looked_at_is_dashed_and_a_bad_one_open(changed: Change) -> None:
    drawing = drawn(changed(observations__nails__0__clinch=..., observations__nails__1__clinch="cracked"))
    exits = drawing.all("exit", "wall medial")
    by_place = dict(zip([each.get("data-place") for each in drawing.all("nail", "wall medial")], exits, strict=True))
    assert by_place["nail:medial:1"].get("stroke-dasharray")
    assert by_place["nail:medial:1"].get("fill") == PAPER
    assert by_place["nail:medial:2"].get("fill") == PAPER
    assert not by_place["nail:medial:2"].get("stroke-dasharray")
    assert by_place["nail:medial:3"].get("fill") == INK
    assert "cracked" in drawing.said
    assert drawing.said.count("not read") == 1


def test_a_nail_without_a_height_is_dashed_and_said_to_be_unread(changed: Change) -> None:
    drawing = drawn(changed(observations__nails__0__exit_height=...))
    (line,) = drawing.all("nail unread")
    assert line.get("stroke-dasharray")
    assert line.get("stroke") == UNSEEN
    assert "not read" in drawing.said
    assert "medial 1 not measured" in described(drawing)


def test_an_imprint_told_only_as_a_share_is_not_drawn_round_the_wall(good: dict[str, Any]) -> None:
    drawing = drawn(good)
    assert {"imprint 98 %", "where: not read"} <= set(drawing.said)
    assert drawing.all("marked") == drawing.all("bare") == []
    assert drawing.one("white-line").get("stroke-dasharray")


def test_a_shoe_that_was_fitted_cold_has_no_imprint_to_miss(changed: Change) -> None:
    drawing = drawn(changed(hot_fitted=False, observations__scorch=...))
    assert not any("imprint" in text for text in drawing.said)
    assert not drawing.one("white-line").get("stroke-dasharray")


def test_what_is_not_assessed_is_listed_in_the_books_own_words(changed: Change) -> None:
    drawing = drawn(changed(observations__soundness=..., observations__going=..., observations__nails__7__clinch=...))
    assert "Going" in drawing.said
    assert "Clinches: state of the clinch, lateral nail 4" in drawing.said


@pytest.mark.parametrize("foot", ["left_fore", "right_fore"])
def test_every_finding_has_its_marker_at_its_place_and_in_the_list(foot: str, changed: Change) -> None:
    drawing = drawn(
        changed(
            foot=foot,
            observations__heel_fit__lateral__width=-2,
            observations__heel_fit__medial__width=0.5,
            observations__toe_fit__overhang=5,
            observations__scorch__sole_pressure=True,
            observations__nails__1__exit_height=45,
            observations__nails__5__reaction="flinch",
        )
    )
    book = shipped_rulebook()
    listed = drawing.all("entry")
    assert len(listed) == len(drawing.assessment.findings) > 5
    outer = 1 if foot == "left_fore" else -1
    for number, finding in enumerate(drawing.assessment.findings, 1):
        markers = drawing.all("marker", number=str(number))
        assert [each.get("data-grade") for each in markers] == [finding.grade] * 2
        at_place, in_list = markers
        assert in_list in list(listed[number - 1])
        texts = [each.text or "" for each in listed[number - 1] if tag_of(each) == "text"]
        assert texts[0] == f"{_word(finding.grade)}: {place_title(finding.place, book)}"
        assert " ".join(texts[1:]) == finding.finding
        x = sum(x for x, _ in points_of(at_place[0])) / len(points_of(at_place[0]))
        if finding.place.endswith("_heel"):
            assert (x > 180) == ((outer > 0) == finding.place.startswith("lateral"))
        if finding.place.startswith("nail:"):
            branch = finding.place.split(":")[1]
            start, end = (number_of(drawing.one("wall " + side), "data-scale") for side in ("lateral", "medial"))
            assert start > 0 < end
            top, bottom = _reach(drawing, branch)
            y = max(y for _, y in points_of(at_place[0]))
            assert top - 60 < y < bottom


def _reach(drawing: Drawn, branch: str) -> tuple[float, float]:
    heights = [y for each in drawing.one(f"wall {branch}").iter() for _, y in points_of(each)]
    return min(heights), max(heights)


def _word(grade: str) -> str:
    return {"minor": "minor", "major": "major", "critical": "CRITICAL"}[grade]


def test_the_markers_of_a_nail_are_led_to_where_it_comes_out(changed: Change) -> None:
    drawing = drawn(changed(observations__nails__1__exit_height=45))
    exits = [points_of(each)[1] for each in drawing.all("nail", place="nail:medial:2")]
    leaders = [points_of(each)[-1] for each in drawing.all("leader")]
    (x, y) = exits[0]
    assert any(abs(x - lx) < 0.01 and abs(y - 3 - ly) < 0.01 for lx, ly in leaders)


def test_the_key_shows_every_grade_that_there_is(good: dict[str, Any]) -> None:
    drawing = drawn(good)
    shown = [each.get("data-grade") for each in drawing.all("marker") if each.get("data-number") is None]
    assert shown == list(GRADES)
    assert "Nothing beyond any limit in what was observed." in drawing.said
