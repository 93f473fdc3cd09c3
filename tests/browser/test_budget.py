"""How many taps a look takes, from the open page with the horse chosen: counted in the browser."""

from __future__ import annotations

from typing import Any

import httpx
import pytest

from tests.support.phone import Phone
from tests.support.tapping import Thumb, begin

HOLES = (1, 2, 3, 4)


@pytest.fixture
def known(phone: Phone) -> Phone:
    """The page at the four feet of a horse, chosen and said to be shod as last time: eight nails, a clip, 11 mm."""
    phone.open("/?lang=en")
    phone.tap("other-horse")
    phone.get("horse-name").send_keys("H-7")
    phone.tap("take-horse")
    begin(phone)
    phone.tap("to-about")
    phone.tap("nails-8")
    phone.tap("clips-toe")
    phone.tap("about-done")
    phone.tap("group-sizes")
    phone.tap("chip-shoe.thickness-11")
    phone.tap("panel-close")
    for group in ("heels", "toe", "seat", "imprint"):
        phone.tap(f"good-{group}")
    Thumb(phone).send()
    # What was so is of an earlier day now: it is offered, not assumed.
    phone.run(
        "const all = JSON.parse(localStorage.getItem('fitcheck.horses'));"
        "all['H-7'].visit = '2026-01-02-H-7'; all['H-7'].feet.left_fore.visit = '2026-01-02-H-7';"
        "localStorage.setItem('fitcheck.horses', JSON.stringify(all));"
        "for (const name of Object.keys(localStorage))"
        " if (name.startsWith('fitcheck.answer.')) localStorage.removeItem(name);"
    )
    phone.open("/?lang=en")
    phone.tap("all-so")
    return phone


def typed(sent: dict[str, Any]) -> int:
    """The numbers in what was sent, but for the thickness of the shoe and the number of a hole."""
    count = 0
    pending: list[Any] = [{name: each for name, each in sent.items() if name != "shoe"}]
    while pending:
        each = pending.pop()
        if isinstance(each, dict):
            pending += [value for name, value in each.items() if name != "hole"]
        elif isinstance(each, list):
            pending += each
        elif isinstance(each, (int, float)) and not isinstance(each, bool):
            count += 1
    return count


def test_a_good_hot_trial_takes_seven_taps_at_most(known: Phone) -> None:
    thumb = Thumb(known)
    sent = thumb.tap("foot-left_fore").good("heels", "toe", "seat", "imprint").send()
    assert thumb.taps == 6
    assert typed(sent) == 0
    assert sent["shoe"] == {
        "thickness": 11,
        "holes": [
            {"branch": branch, "hole": hole, "to_white_line": "on_line"}
            for branch in ("medial", "lateral")
            for hole in HOLES
        ],
    }
    assert sent["observations"]["scorch"]["dark"] == []
    assert sent["work"] == "draught"
    for side in ("medial", "lateral"):
        assert sent["observations"]["heel_fit"][side] == {"length": "right", "width": "full", "frog_gap": "free"}
    assert sent["observations"]["levelness"]["rocks"] is False
    assert sent["observations"]["toe_fit"]["overhang"] == "flush"
    assert sent["observations"]["scorch"]["coverage"] == "whole"


def test_two_tight_heels_take_nine_taps(known: Phone) -> None:
    thumb = Thumb(known)
    thumb.tap("foot-left_fore", "place-medial_heel")
    thumb.tap(*(f"pick-observations.heel_fit.{side}.width-tight" for side in ("medial", "lateral")), "rest-heels")
    sent = thumb.good("toe", "seat", "imprint").send()
    assert thumb.taps == 9
    assert typed(sent) == 0
    assert sent["observations"]["heel_fit"]["medial"]["width"] == "tight"
    assert sent["observations"]["heel_fit"]["lateral"]["length"] == "right"
    [decision] = known.all("[data-decision]")
    assert decision.get_attribute("data-decision") == "put_right"


@pytest.fixture
def tried(known: Phone) -> Phone:
    """The same visit, after the trial: the next look at this foot is at the next stage."""
    Thumb(known).tap("foot-left_fore").good("heels", "toe", "seat", "imprint").send()
    known.tap("feet")
    return known


def finished(thumb: Thumb) -> Thumb:
    """From the four feet to the finished foot with every group good."""
    thumb.tap("foot-left_fore", "pick-stage-finished")
    return thumb.good("heels", "toe", "seat", "nails", "hand", "going")


def test_a_good_finished_foot_with_eight_nails_takes_nine_taps(tried: Phone) -> None:
    thumb = Thumb(tried)
    finished(thumb)
    # What stands from the trial is not asked for once more.
    assert tried.get("lacking").text == "All that is needed is said"
    sent = thumb.send()
    assert thumb.taps == 9
    assert typed(sent) == 0
    # What only the trial shows stands from the trial: the fitting names it, and the service has it from there.
    assert "coverage" not in sent["observations"].get("scorch", {})
    answer = httpx.get(f"{tried.url}/v1/assessments/{tried.where.removeprefix('answer/')}").json()
    trial = {each["field"]: each for each in answer["carried"]}["observations.scorch.coverage"]
    assert (trial["value"], trial["assessment"]) == ("whole", sent["follows"])
    assert answer["decision"] == "release"
    nails = sent["observations"]["nails"]
    assert [(nail["branch"], nail["hole"]) for nail in nails] == [
        (branch, hole) for branch in ("medial", "lateral") for hole in HOLES
    ]
    assert {(nail["sound"], nail["reaction"], nail["blood"], nail["clinch"]) for nail in nails} == {
        ("firm", "none", False, "flush")
    }


def test_one_high_nail_and_one_proud_clinch_take_thirteen(tried: Phone) -> None:
    thumb = Thumb(tried)
    finished(thumb)
    thumb.tap("place-nail:medial:2", "pick-nail:medial:2.exit_height-high")
    thumb.tap("place-nail:lateral:3", "pick-nail:lateral:3.clinch-proud")
    sent = thumb.send()
    assert thumb.taps == 13
    assert typed(sent) == 0
    by_hole = {(nail["branch"], nail["hole"]): nail for nail in sent["observations"]["nails"]}
    assert by_hole["medial", 2]["exit_height"] == "high"
    assert by_hole["lateral", 3]["clinch"] == "proud"
    assert sum(nail["clinch"] == "flush" for nail in by_hole.values()) == 7
