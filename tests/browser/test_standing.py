"""What stands of the look before, and what the drawings of a foot show of its shoe."""

from __future__ import annotations

import re
from typing import Any

import httpx
import pytest

from tests.support.begun import case, put
from tests.support.phone import Phone
from tests.support.tapping import Thumb, begin, take_horse


@pytest.fixture
def tried(phone: Phone) -> Phone:
    """The left fore of a horse, with eight nails and a clip at the toe, good at the trial."""
    phone.open("/?lang=en")
    take_horse(phone, "H-7")
    begin(phone)
    for tap in ("to-about", "nails-8", "clips-toe", "about-done", "group-sizes", "chip-shoe.thickness-11"):
        phone.tap(tap)
    phone.tap("panel-close")
    Thumb(phone).good("heels", "toe", "seat", "imprint").send()
    phone.tap("onward")
    phone.until(lambda: phone.all("main.foot[data-stage='nailed']"), "nailed")
    return phone


def test_what_is_carried_says_so_and_what_was_not_looked_at_is_not_said_as_before(tried: Phone) -> None:
    phone = tried
    imprint = phone.all("[data-group='imprint']")[0]
    assert imprint.get_attribute("data-state") == "carried"
    assert "carried over from before" in imprint.text
    assert "not looked at" not in imprint.text
    phone.tap("group-imprint")
    assert "carried over from before: whole" in phone.get("panel").text
    phone.tap("panel-close")
    Thumb(phone).good("heels", "toe", "seat", "nails").send()
    phone.tap("onward")
    phone.until(lambda: phone.all("main.foot[data-stage='finished']"), "finished")
    nails = phone.all("[data-group='nails']")[0]
    assert "carried over from before" in nails.text
    # Heads were not asked for when it was nailed: as before says nothing of them.
    phone.tap("before-nails")
    sheet = phone.kept(f"sheet.{phone.kept('current')}")
    assert sheet["answers"]["nail:medial:1.sound"] == "firm"
    assert "nails" not in sheet["good"]
    assert not [name for name in sheet["answers"] if re.search(r"\.head$", name)]


def test_the_dressing_stands_at_the_trial(phone: Phone) -> None:
    phone.open("/?lang=en")
    take_horse(phone, "H-7")
    begin(phone, stage="dressed")
    Thumb(phone).good("dressing", "seen").send()
    phone.tap("onward")
    phone.until(lambda: phone.all("main.foot[data-stage='hot_fit']"), "the trial")
    for group in ("dressing", "seen"):
        [row] = phone.all(f"[data-group='{group}']")
        assert row.get_attribute("data-state") == "carried", group
    assert phone.all("[data-group='heels']")[0].get_attribute("data-state") == "blank"
    sent = Thumb(phone).good("heels", "toe", "seat", "imprint").send()
    assert "dressing" not in sent["observations"]
    address = phone.where.removeprefix("answer/")
    carried = httpx.get(f"{phone.url}/v1/assessments/{address}").json()["carried"]
    assert {"observations.dressing.axis", "observations.seen"} <= {each["field"] for each in carried}


def drawn_parts(phone: Phone, of: str) -> set[str]:
    return {str(each.get_attribute("data-part")) for each in phone.all(f"{of} [data-part]")}


@pytest.mark.long
def test_the_answers_foot_has_its_clips_and_nails(tried: Phone) -> None:
    phone = tried
    phone.tap("place-nail:medial:2")
    phone.tap("pick-nail:medial:2.exit_height-high")
    phone.tap("panel-close")
    Thumb(phone).good("heels", "toe", "seat", "nails").send()
    shown = drawn_parts(phone, ".map.marked")
    assert "clip:toe" in shown
    assert "clip:medial_toe" not in shown
    assert {f"nail:{branch}:{hole}" for branch in ("medial", "lateral") for hole in (1, 2, 3, 4)} <= shown
    # Fetched from the service, by another telephone, it has them too.
    address = phone.where
    phone.run("localStorage.clear()")
    phone.open(f"/?lang=en#{address}")
    phone.until(lambda: phone.all(".map.marked"), "the drawing")
    assert {"clip:toe", "nail:lateral:4"} <= drawn_parts(phone, ".map.marked")


@pytest.mark.long
def test_a_bare_foot_is_drawn_without_a_shoe(phone: Phone) -> None:
    begin(phone.open("/?lang=en"), stage="dressed")
    assert not phone.all(".map .part-iron, .map .part-fuller")
    phone.tap("pick-stage-hot_fit")
    assert phone.all(".map .part-iron")


@pytest.mark.long
def test_a_mark_of_the_whole_foot_lies_on_none_of_its_parts(phone: Phone) -> None:
    fitting: dict[str, Any] = case("tight-heels-good-toe")
    phone.open("/?lang=en")
    put(phone, fitting)
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    [mark] = phone.all(".found-mark[data-place='foot']")
    assert "Whole foot" in mark.text
    bottom = phone.run("return arguments[0].getBoundingClientRect().bottom", mark)
    top = phone.run("return document.querySelector('.map.marked .part-wall').getBoundingClientRect().top")
    assert bottom <= top
