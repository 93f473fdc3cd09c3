"""The page for everyone: narrow screens, keys instead of fingers, ears instead of eyes, paper, and dark yards."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.support.page_states import every_state
from tests.support.phone import DESK, PHONE, Phone
from tests.support.tapping import begin, enter, go_to

# WCAG 2.2 asks for 24 px (2.5.8); a glove needs more.
LEAST_TARGET_PX = 44


def case(root: Path, name: str) -> dict[str, Any]:
    fitting: dict[str, Any] = json.loads((root / "cases_demo" / f"{name}.json").read_text(encoding="utf-8"))
    return fitting


@pytest.mark.parametrize("dark", [False, pytest.param(True, marks=pytest.mark.long)], ids=["light", "dark"])
def test_axe_finds_nothing_wrong_and_nothing_stands_out_sideways_on_a_telephone(
    phone: Phone, tmp_path: Path, *, dark: bool
) -> None:
    """axe-core measures contrast too (WCAG 1.4.3)."""
    if dark:
        phone.emulate(prefers_color_scheme="dark")
    faults: list[str] = []
    states = []
    for state in every_state(phone, tmp_path):
        states.append(state)
        faults += [f"{state}: {each}" for each in phone.violations()]
        if phone.scrolls_sideways():
            faults.append(f"{state}: scrolls sideways")
        small = phone.run(
            "return [...document.querySelectorAll('button, summary, input:not(.unseen-input, [type=checkbox])')]"
            ".filter((each) => each.checkVisibility())"
            ".filter((each) => each.getBoundingClientRect().height < arguments[0])"
            ".map((each) => each.outerHTML.slice(0, 120))",
            LEAST_TARGET_PX,
        )
        faults += [f"{state}: too small for a glove: {each}" for each in small]
    assert faults == []
    assert len(states) == 33
    # That there was no signal is the last state's own.
    assert [each for each in phone.complaints() if "ERR_INTERNET_DISCONNECTED" not in each] == []


def test_axe_would_find_what_is_wrong(phone: Phone) -> None:
    phone.open()
    phone.run(
        "const grey = document.createElement('p'); grey.textContent = 'hardly to be read'; grey.style.color = '#bbb';"
        "const mute = document.createElement('button'); document.querySelector('main').append(grey, mute);"
    )
    assert {each.split(":")[0] for each in phone.violations()} == {"color-contrast", "button-name"}


def test_a_foot_is_checked_by_keys_alone(phone: Phone) -> None:
    phone.open()
    keys = ActionChains(phone.driver, duration=0)

    def go_to_element(id_: str) -> None:
        """Move by Tab alone; what is in focus is outlined."""
        for _ in range(80):
            if phone.run("return document.activeElement.id") == id_:
                break
            keys.send_keys(Keys.TAB).perform()
        assert phone.run("return document.activeElement.id") == id_
        width = phone.run("return getComputedStyle(document.activeElement).outlineWidth")
        parent = phone.run("return getComputedStyle(document.activeElement.parentElement).outlineWidth")
        assert "4px" in {width, parent}

    def press(id_: str) -> None:
        go_to_element(id_)
        keys.send_keys(Keys.ENTER).perform()

    def step_by_keys() -> None:
        here = phone.where
        press("onward")
        phone.until(lambda: phone.where != here, "on")

    press("new-foot")
    for at, value in (("foot", "left_fore"), ("stage", "hot_fit"), ("work", "draught"), ("hoof_form", "regular")):
        phone.until_step(at)
        # A new question is announced by its heading, and Tab goes on from there.
        assert phone.run("return document.activeElement.id") == "heading"
        press(f"pick-{at}-{value}")
    phone.until_step("heel_width")
    press("pick-observations.heel_fit.medial.width-tight")
    assert phone.run("return document.activeElement.id") == "pick-observations.heel_fit.medial.width-tight"
    press("onward")
    phone.until_step("heel_length")
    go_to_element("number-observations.heel_fit.medial.length")
    keys.send_keys("12").perform()
    while phone.where != "review":
        step_by_keys()
    phone.get("send")
    press("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    assert phone.run("return document.activeElement.id") == "heading"


def test_what_happens_is_said_to_those_who_listen(phone: Phone) -> None:
    phone.open()
    begin(phone, {"foot": "left_fore", "stage": "hot_fit", "work": "draught"})
    go_to(phone, "review")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    [live] = phone.all("#live[role='status'][aria-live='polite']")
    said = phone.until(lambda: live.get_attribute("textContent"), "said")
    assert said == "Not enough was looked at to release this foot."


@pytest.mark.long
def test_on_paper_all_is_unfolded_and_nothing_is_there_to_tap(phone: Phone, root: Path) -> None:
    enter(phone.open(), case(root, "tight-heels-good-toe"))
    phone.tap("send")
    phone.until(lambda: phone.all(".sheet-drawing img"), "the drawing")
    phone.emulate(media="print", prefers_color_scheme="dark")
    phone.run("dispatchEvent(new Event('beforeprint'))")
    assert not phone.all("details:not([open])")
    shown = phone.run("return [...document.querySelectorAll('button')].filter((each) => each.checkVisibility()).length")
    assert shown == 0
    assert phone.run("return getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert "25 readings lie within their limits" in phone.text
    printed = phone.driver.execute_cdp_cmd("Page.printToPDF", {"printBackground": True})["data"]
    assert len(printed) > 20_000
    phone.run("dispatchEvent(new Event('afterprint'))")
    assert phone.all("details:not([open])")


def test_those_who_want_no_motion_get_none(phone: Phone) -> None:
    phone.emulate(prefers_reduced_motion="reduce")
    phone.open()
    phone.tap("new-foot")
    phone.until_step("foot")
    [duration] = set(
        phone.run(
            "return [...document.querySelectorAll('button')].map((each) => getComputedStyle(each).transitionDuration)"
        )
    )
    assert duration == "0s"


def test_a_desk_has_the_drawing_beside_the_questions(phone: Phone) -> None:
    phone.resize(DESK)
    begin(phone.open(), {"foot": "left_fore", "stage": "hot_fit", "work": "draught"})
    card, questions = (phone.all(name)[0].rect for name in (".card", ".questions"))
    assert card["x"] + card["width"] <= questions["x"]
    phone.resize(PHONE)
    card, questions = (phone.all(name)[0].rect for name in (".card", ".questions"))
    assert card["y"] + card["height"] <= questions["y"]


def test_the_drawing_shows_inside_and_outside_where_they_lie(phone: Phone) -> None:
    """Seen from below with the toe upwards, the outside of a left foot is on the right: common practice, no source."""
    for foot, left in (("left_fore", "Inside"), ("right_fore", "Outside")):
        begin(phone.open(), {"foot": foot, "stage": "hot_fit", "work": "draught"})
        labels = {
            each.text: each.rect["x"] for each in phone.all(".drawing text") if each.text in {"Inside", "Outside"}
        }
        assert min(labels, key=lambda name: labels[name]) == left
        first = phone.all(".pair .label")[0].text
        assert re.match(left, first)
        phone.tap("to-all")
        phone.tap("to-start")
