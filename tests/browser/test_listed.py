"""What a fitting has as a list: seen on the foot, darker in the imprint, clips besides the toe's, holes one by one."""

from __future__ import annotations

from typing import Any

import pytest

from fitcheck.drawing.foot_below import FootBelow
from tests.support.phone import Phone
from tests.support.tapping import Thumb, begin

SEEN = "observations.seen"


@pytest.fixture
def trial(phone: Phone) -> Phone:
    """A hind foot at the trial, with four nail holes a branch that are known."""
    begin(phone.open("/?lang=en"), "left_hind")
    phone.tap("to-about")
    phone.tap("nails-8")
    return phone


def test_what_was_seen_is_sent_with_its_place_and_how_deep_it_goes(trial: Phone) -> None:
    trial.tap("about-done")
    trial.tap("group-seen")
    trial.tap(f"pick-{SEEN}.crack-toe")
    trial.tap(f"pick-{SEEN}.crack-lateral_quarter")
    trial.tap(f"pick-{SEEN}.crack@toe-deep")
    trial.tap(f"pick-{SEEN}.bruise-sole")
    trial.tap(f"pick-{SEEN}.bruise-sole")
    trial.tap(f"pick-{SEEN}.smell-none")
    trial.tap("panel-close")
    assert trial.get("place-toe").get_attribute("data-state") == "off"
    sent = Thumb(trial).send()
    assert sent["observations"]["seen"] == [
        {"what": "crack", "place": "toe", "deep": True},
        {"what": "crack", "place": "lateral_quarter"},
    ]
    shown = {(each.get_attribute("data-rule"), each.get_attribute("data-place")) for each in trial.all(".finding")}
    assert {place for rule, place in shown if "crack" in str(rule)} == {"toe", "lateral_quarter"}


def test_nothing_seen_is_said_in_one_tap_and_sent_as_an_empty_list(trial: Phone) -> None:
    trial.tap("about-done")
    sent = Thumb(trial).good("seen").send()
    assert sent["observations"]["seen"] == []


def test_a_foot_that_nothing_was_said_of_sends_no_list(trial: Phone) -> None:
    trial.tap("about-done")
    sent = Thumb(trial).send()
    assert "seen" not in sent["observations"]
    assert "scorch" not in sent["observations"]
    assert "holes" not in sent.get("shoe", {})


def test_a_dark_place_of_the_imprint_is_named(trial: Phone) -> None:
    trial.tap("about-done")
    trial.tap("good-imprint")
    trial.tap("group-imprint")
    trial.tap("pick-observations.scorch.dark-medial_heel")
    trial.tap("panel-close")
    sent = Thumb(trial).send()
    assert sent["observations"]["scorch"]["dark"] == ["medial_heel"]
    assert trial.all(".finding[data-rule='dark-patch'][data-place='medial_heel']")


def test_clips_at_both_sides_of_the_toe_are_each_asked_for_and_sent(trial: Phone) -> None:
    trial.tap("clips-medial_toe")
    trial.tap("clips-lateral_toe")
    trial.tap("about-done")
    trial.tap("good-toe")
    trial.tap("place-medial_toe")
    trial.tap("pick-clip:medial_toe.state-proud")
    trial.tap("panel-close")
    sent = Thumb(trial).send()
    assert sent["observations"]["toe_fit"]["clips"] == [
        {"at": "medial_toe", "state": "proud"},
        {"at": "lateral_toe", "state": "seated"},
    ]
    assert "clip" not in sent["observations"]["toe_fit"]
    assert trial.all(".finding[data-rule='clip-proud'][data-place='medial_toe']")


def test_a_toe_clip_beside_others_is_one_of_the_list(trial: Phone) -> None:
    for place in ("toe", "medial_quarter"):
        trial.tap(f"clips-{place}")
    trial.tap("about-done")
    sent = Thumb(trial).good("toe").send()
    assert sent["observations"]["toe_fit"]["clips"] == [
        {"at": "toe", "state": "seated"},
        {"at": "medial_quarter", "state": "seated"},
    ]


def test_no_clips_is_said_once_and_nothing_of_them_is_asked(trial: Phone) -> None:
    trial.tap("clips-none")
    trial.tap("about-done")
    trial.tap("group-toe")
    assert not [each for each in trial.all("#panel .row") if "clip" in str(each.get_attribute("data-at"))]
    trial.tap("panel-close")
    assert Thumb(trial).send()["observations"]["toe_fit"]["clip"] == "none"


def test_a_hole_inside_the_white_line_is_said_at_the_trial_and_no_later(trial: Phone) -> None:
    trial.tap("about-done")
    trial.tap("place-nail:lateral:2")
    trial.tap("pick-nail:lateral:2.to_white_line-inside")
    trial.tap("panel-close")
    sent: dict[str, Any] = Thumb(trial).send()
    assert sent["shoe"]["holes"] == [{"branch": "lateral", "hole": 2, "to_white_line": "inside"}]
    assert trial.all(".finding[data-place='nail:lateral:2']")
    trial.tap("to-start")
    begin(trial, "left_hind")
    trial.tap("to-about")
    trial.tap("nails-8")
    trial.tap("about-done")
    trial.tap("place-nail:lateral:2")
    trial.tap("number-nail:lateral:2.to_white_line")
    for key in ("3", "\u2212"):
        trial.touch(trial.all(f".key[data-key='{key}']")[0])
    trial.tap("keypad-next")
    trial.tap("panel-close")
    sent = Thumb(trial).send()
    assert sent["shoe"]["holes"] == [{"branch": "lateral", "hole": 2, "to_white_line": -3}]
    assert trial.all(".finding[data-place='nail:lateral:2']")
    trial.tap("to-start")
    begin(trial, "left_fore", stage="nailed")
    trial.tap("to-about")
    trial.tap("nails-8")
    trial.tap("about-done")
    trial.tap("place-nail:lateral:2")
    assert not trial.all("[data-at='nail:lateral:2.to_white_line']")


def test_the_map_is_the_drawings_own_geometry(trial: Phone) -> None:
    """Hoof, shoe, the two clips and the eight holes that are known, by the parts of ``fitcheck/drawing``."""
    for place in ("medial_toe", "lateral_toe"):
        trial.tap(f"clips-{place}")
    trial.tap("about-done")
    trial.until(lambda: trial.all(".map svg g path"), "the map")
    shown = trial.run(
        "return [...document.querySelectorAll('.map svg g path')].map((each) => [each.getAttribute('class').slice(5),"
        " each.getBBox().x, each.getBBox().width])"
    )
    drawn = FootBelow("hind").shapes
    assert sorted(part for part, _, _ in shown) == sorted(shape.part for shape in drawn)
    for part in {shape.part for shape in drawn}:
        boxes = [[x for x, _ in shape.points] for shape in drawn if shape.part == part]
        found = sorted((x, width) for name, x, width in shown if name == part)
        expected = sorted((min(xs), max(xs) - min(xs)) for xs in boxes)
        for one, other in zip(found, expected, strict=True):
            assert one == pytest.approx(other, abs=0.2)


def test_the_group_has_its_title_in_german(phone: Phone) -> None:
    begin(phone.open("/?lang=de"), "left_hind")
    assert phone.all("[data-group='seen'] .group-title")[0].text == "Am Huf gesehen"
