"""One foot, several looks: try again, the next stage, a stop, and the four feet of a horse."""

from __future__ import annotations

from typing import Any

import httpx

from tests.support.begun import case, put
from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import Thumb


def decision(phone: Phone) -> str:
    [shown] = phone.all("main [data-decision]")
    return str(shown.get_attribute("data-decision"))


def next_step(phone: Phone) -> list[str | None]:
    return [each.get_attribute("data-next") for each in phone.all(".thumb .onward")]


def at_todays_visit(fitting: dict[str, Any], phone: Phone) -> dict[str, Any]:
    """The fitting as one of today's visit of its horse, as the page names it."""
    day = phone.run(
        "const now = new Date(); return new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10)"
    )
    return fitting | {"visit": f"{day}-{fitting['horse']['id']}"}


def test_after_put_right_the_same_foot_is_tried_again_with_the_findings_first(phone: Phone) -> None:
    phone.open("/?lang=en")
    fitting = at_todays_visit(case("tight-heels-good-toe"), phone)
    put(phone, fitting)
    Thumb(phone).send()
    assert decision(phone) == "put_right"
    assert next_step(phone) == ["again"]
    phone.tap("onward")
    phone.until(lambda: phone.all("main.foot .again"), "the same foot")
    assert phone.all(f"main.foot[data-foot='{fitting['foot']}'][data-stage='hot_fit']")
    first = [str(each.get_attribute("id")) for each in phone.all(".again button")]
    assert {"again-medial_heel", "again-lateral_heel"} <= set(first)
    sheet = phone.kept(f"sheet.{phone.kept('current')}")
    assert not [path for path in sheet["answers"] if path.startswith("observations") and "history" not in path]
    assert sheet["answers"]["shoe.thickness"] == {"n": str(fitting["shoe"]["thickness"]), "unit": "mm"}
    phone.tap("again-medial_heel")
    for side in ("medial", "lateral"):
        width = fitting["observations"]["heel_fit"][side]["width"]
        assert f"before: {width:g} mm".replace("-", "\N{MINUS SIGN}") in phone.text
    # What had a finding is to be looked at again; what had none may be said to be as before.
    assert not phone.all("#before-heels")
    phone.tap("before-toe")
    phone.tap("before-seat")
    phone.tap("before-imprint")
    for side in ("medial", "lateral"):
        phone.tap("again-medial_heel")
        phone.tap(f"pick-observations.heel_fit.{side}.width-full")
        for name, digits in (("length", "11"), ("frog_gap", "8")):
            phone.tap(f"number-observations.heel_fit.{side}.{name}")
            for digit in digits:
                phone.touch(phone.all(f".key[data-key='{digit}']")[0])
            phone.tap("panel-close")
            phone.tap("again-medial_heel")
    phone.tap("panel-close")
    sent = Thumb(phone).send()
    assert sent["observations"]["toe_fit"] == fitting["observations"]["toe_fit"]
    assert decision(phone) == "go_on"
    assert next_step(phone) == ["nailed"]
    phone.tap("onward")
    phone.until(lambda: phone.all("main.foot[data-stage='nailed']"), "the next stage of the same foot")


def test_after_a_stop_it_is_not_the_next_foot(phone: Phone) -> None:
    phone.open("/?lang=en")
    put(phone, at_todays_visit(case("flinch"), phone))
    Thumb(phone).send()
    assert decision(phone) == "stop_and_refer"
    assert next_step(phone) == []
    assert phone.all("#cautions[open]")
    foot = case("flinch")["foot"]
    phone.tap("feet")
    assert phone.get(f"foot-{foot}").get_attribute("data-state") == "stop_and_refer"
    phone.tap(f"foot-{foot}")
    phone.until(lambda: phone.all("[data-decision='stop_and_refer']"), "the answer, and no new look")


def test_a_foot_that_may_leave_leads_to_the_other_feet(phone: Phone) -> None:
    phone.open("/?lang=en")
    fitting = at_todays_visit(case("good-draught-fore"), phone)
    put(phone, fitting)
    Thumb(phone).send()
    assert decision(phone) == "release"
    assert next_step(phone) == ["next-foot"]
    phone.tap("onward")
    assert phone.get(f"foot-{fitting['foot']}").get_attribute("data-state") == "release"
    assert "3 feet are left to do." in phone.text


def test_the_other_feet_are_offered_what_is_known_and_nothing_of_the_foot(phone: Phone) -> None:
    phone.open("/?lang=en")
    fitting = at_todays_visit(case("good-draught-fore"), phone)
    put(phone, fitting)
    Thumb(phone).send()
    phone.tap("onward")
    other = "right_fore" if fitting["foot"] == "left_fore" else "left_fore"
    phone.tap(f"foot-{other}")
    phone.until(lambda: phone.all(f"main.foot[data-foot='{other}']"), "the other foot")
    sheet = phone.kept(f"sheet.{phone.kept('current')}")
    assert sheet["answers"]["horse.id"] == fitting["horse"]["id"]
    assert sheet["answers"]["visit"] == fitting["visit"]
    assert sheet["answers"]["work"] == "draught"
    assert "shoe.thickness" not in sheet["answers"]
    assert f"{fitting['shoe']['thickness']} mm" in phone.all(".offer")[0].text
    phone.tap("is-so")
    sheet = phone.kept(f"sheet.{phone.kept('current')}")
    assert sheet["answers"]["shoe.thickness"]["n"] == str(fitting["shoe"]["thickness"])
    assert sheet["holes"]["medial"]
    assert not [path for path in sheet["answers"] if "heel_fit" in path or path.startswith("nail:")]


def test_what_left_against_right_shows_stands_with_the_four_feet(phone: Phone, service: Served) -> None:
    phone.open("/?lang=en")
    fitting = at_todays_visit(case("good-draught-fore"), phone)
    put(phone, fitting)
    Thumb(phone).send()
    other = "right_fore" if fitting["foot"] == "left_fore" else "left_fore"
    far = fitting | {"foot": other, "hoof": fitting.get("hoof", {}) | {"wall_height": 120}}
    near = fitting | {"hoof": fitting.get("hoof", {}) | {"wall_height": 95}}
    for each in (near, far):
        httpx.post(f"{service.url}/v1/assessments", json=each).raise_for_status()
    phone.tap("onward")
    shown = phone.until(lambda: phone.all("#pairs li"), "what the pair shows")
    visit = httpx.get(f"{service.url}/v1/visits/{fitting['visit']}").json()
    found = [each["rule"] for pair in visit["pairs"] for each in pair.get("findings") or ()]
    assert [each.get_attribute("data-rule") for each in shown] == found
    assert found


def test_where_no_nail_is_known_the_way_to_say_which_there_are_is_marked_as_needed(phone: Phone) -> None:
    fitting = case("tight-heels-good-toe")
    bare = fitting | {"shoe": {"thickness": 12}}
    phone.open("/?lang=en")
    put(phone, bare)
    assert "needed" in phone.get("to-about").text
    put(phone, fitting)
    assert "needed" not in phone.get("to-about").text
