"""A foot checked on a telephone: what is tapped comes to the service, and its answer is shown as it is."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import begin, enter, go_to

DECISIONS = {"release": "Good to leave.", "put_right": "Put right before this foot leaves."}


def case(root: Path, name: str) -> dict[str, Any]:
    fitting: dict[str, Any] = json.loads((root / "cases_demo" / f"{name}.json").read_text(encoding="utf-8"))
    return fitting


def answer_shown(phone: Phone) -> str:
    """Send what stands in the review, wait for its answer, and give the id."""
    phone.tap("send")
    phone.until(lambda: phone.where.startswith("answer/") and phone.all("[data-decision]"), "the answer")
    return phone.where.removeprefix("answer/")


def test_a_fitting_entered_by_tapping_has_the_decision_and_findings_of_the_service(
    phone: Phone, service: Served, root: Path
) -> None:
    fitting = case(root, "tight-heels-good-toe")
    enter(phone.open(), fitting, by_steppers=True)
    kept = answer_shown(phone)
    by_page = httpx.get(f"{service.url}/v1/assessments/{kept}").json()
    by_api = httpx.post(f"{service.url}/v1/assessments?keep=false", json=fitting).json()
    passing = ("id", "created")
    assert {name: each for name, each in by_page.items() if name not in passing} == {
        name: each for name, each in by_api.items() if name not in passing
    }
    [decision] = phone.all("[data-decision]")
    assert decision.get_attribute("data-decision") == by_api["decision"] == "put_right"
    assert decision.text == DECISIONS["put_right"]
    shown = [
        tuple(each.get_attribute(f"data-{name}") for name in ("rule", "place", "grade"))
        for each in phone.all(".finding")
    ]
    assert shown == [(each["rule"], each["place"], each["grade"]) for each in by_api["findings"]]
    assert len(shown) == 3
    assert [each.text for each in phone.all(".actions li")] == by_api["actions"]
    text = str(phone.run("return document.querySelector('main').textContent"))
    for each in (*by_api["cautions"], by_api["next_due"]["say"], *(f["finding"] for f in by_api["findings"])):
        assert each in text
    assert f"{len(by_api['conforms'])} readings lie within their limits" in text
    assert f"{len(by_api['not_assessed'])} things were not looked at" in text
    # Cautions come before what to do.
    assert text.index(by_api["cautions"][0]) < text.index(by_api["actions"][0])
    [drawing] = phone.until(lambda: phone.all(".sheet-drawing img"), "the drawing")
    assert phone.until(lambda: drawing.get_property("naturalWidth"), "the drawing is loaded")
    assert "1: Whole foot; 2: Outside heel; 3: Inside heel" in str(drawing.get_attribute("alt"))
    for link in phone.all("main footer a"):
        assert httpx.get(str(link.get_property("href"))).status_code == 200
    assert len(phone.all("main footer a")) == 2
    assert phone.complaints() == []


def test_the_next_foot_takes_over_the_horse_and_nothing_of_the_foot(phone: Phone, root: Path) -> None:
    fitting = case(root, "tight-heels-good-toe")
    enter(phone.open(), fitting | {"observations": {"heel_fit": fitting["observations"]["heel_fit"]}, "shoe": {}})
    answer_shown(phone)
    phone.tap("next-foot")
    phone.until_step("foot")
    sheet = phone.kept(f"sheet.{phone.kept('current')}")
    assert sheet["answers"]["horse.id"] == "H-102"
    assert sheet["answers"]["visit"] == "2026-03-04-H-102"
    assert "foot" not in sheet["answers"]
    assert not [path for path in sheet["answers"] if "heel" in path]


@pytest.mark.long
def test_all_nails_are_firm_and_flush_in_one_tap(phone: Phone, service: Served, root: Path) -> None:
    fitting = case(root, "good-draught-fore")
    begin(phone.open(), fitting)
    go_to(phone, "nail_exits")
    for branch in ("medial", "lateral"):
        for _ in range(4):
            phone.tap(f"more-{branch}")
    phone.tap("hole-lateral-4")
    for nail in fitting["observations"]["nails"][:-1]:
        phone.dial(f"nail:{nail['branch']}:{nail['hole']}.exit_height", nail["exit_height"])
    phone.onward()
    phone.tap("all-firm-flush")
    go_to(phone, "review")
    kept = httpx.get(f"{service.url}/v1/assessments/{answer_shown(phone)}").json()
    good = {(each["quantity"], each["place"]) for each in kept["conforms"]}
    places = [f"nail:{nail['branch']}:{nail['hole']}" for nail in fitting["observations"]["nails"][:-1]]
    for quantity in ("exit_height", "sound", "reaction", "blood", "clinch"):
        assert {(quantity, place) for place in places} <= good
    assert "nail:lateral:4" not in {place for _, place in good}


@pytest.mark.long
def test_what_was_not_looked_at_is_not_assessed_and_can_be_added(phone: Phone, service: Served, root: Path) -> None:
    fitting = case(root, "tight-heels-good-toe")
    del fitting["observations"]["scorch"]
    enter(phone.open(), fitting)
    assert "2 needed questions are not answered" in phone.text
    first = answer_shown(phone)
    assert "scorch" in httpx.get(f"{service.url}/v1/assessments/{first}").json()["not_assessed"]
    needed = [each.text for each in phone.all(".needed li")]
    assert needed
    assert all(each.startswith("Scorch ") for each in needed)
    phone.tap("complete")
    phone.until_step("scorch_cover")
    phone.dial("observations.scorch.coverage", 98)
    go_to(phone, "review")
    second = answer_shown(phone)
    links = httpx.get(f"{service.url}/v1/assessments/{second}").headers["link"]
    assert f'</v1/assessments/{first}>; rel="predecessor-version"' in links


@pytest.mark.parametrize("step", [pytest.param("heel_length", marks=pytest.mark.long), "history"])
def test_what_the_service_refuses_stands_beside_its_question_and_nothing_is_lost(
    phone: Phone, root: Path, step: str
) -> None:
    fitting = case(root, "tight-heels-good-toe")
    wrong: dict[str, Any] = {
        "heel_length": (fitting["observations"]["heel_fit"]["medial"], "length", 500),
        "history": (fitting["observations"]["history"], "fitted", "2025-01-01"),
    }
    place, key, value = wrong[step]
    place[key] = value
    for other in ("toe_fit", "levelness", "scorch"):
        del fitting["observations"][other]
    enter(phone.open(), fitting)
    before = phone.kept(f"sheet.{phone.kept('current')}")["answers"]
    phone.tap("send")
    phone.until(lambda: phone.where == "review" and phone.all(".refused"), "sent back")
    assert "Nothing is lost" in phone.text
    [row] = [each for each in phone.all(".row") if each.find_elements("css selector", ".fault")]
    assert row.get_attribute("id") == f"row-{step}"
    phone.touch(row)
    phone.until_step(step)
    [fault] = phone.all(".fault")
    described = phone.run("return arguments[0].id", fault)
    assert phone.all(f"[aria-invalid='true'][aria-describedby='{described}']")
    assert phone.kept(f"sheet.{phone.kept('current')}")["answers"] == before


def test_inches_go_as_workshop_fractions(phone: Phone, service: Served, root: Path) -> None:
    begin(phone.open(), case(root, "tight-heels-good-toe"))
    phone.onward()
    phone.tap("unit-in")
    at = "observations.heel_fit.medial.length"
    phone.write(f"number-{at}", "1 5/8")
    phone.touch(phone.all(f".nudge[data-at='{at}'][data-step='1']")[0])
    assert phone.get(f"number-{at}").get_property("value") == "1 11/16"
    go_to(phone, "review")
    kept = httpx.get(f"{service.url}/v1/assessments/{answer_shown(phone)}").json()
    [length] = [each for each in kept["measurements"] if each["quantity"] == "length"]
    # The inch is 25.4 mm (international yard and pound agreement, 1959).
    assert length["value"] == pytest.approx(25.4 * 27 / 16, abs=1e-3)
