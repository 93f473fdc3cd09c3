"""The desk's queue in a real browser: feet marked blind by keys alone, kept, compared, and clean by axe-core."""

from __future__ import annotations

import base64
import copy
import io
import logging
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import httpx
import pytest
from pypdf import PdfReader
from selenium.webdriver.common.keys import Keys

from fitcheck.records import open_store
from fitcheck.records.keys import AccessKeys
from tests.support.assessor import KeyedAssessor
from tests.support.phone import DESK, PHONE, Phone
from tests.support.served import Served

FEET: Final = ("left_fore", "right_fore", "left_hind", "right_hind")
SECONDS_A_KEY: Final = 0.8
"""How long an action takes that was thought about; common practice, no source."""
TEN_MINUTES: Final = 600.0
BY_NUMBER: Final[tuple[dict[str, str | None], ...]] = (
    {},
    {"nails": "minor"},
    {"heel_fit": "major", "finish": "minor"},
    {},
    {"clinches": None},
)
"""What an assessor sees on one foot after another."""
STERNER: Final = tuple(
    {name: "major" if grade == "minor" else grade for name, grade in each.items()} for each in BY_NUMBER
)
"""What another one sees: minor faults weigh more."""
_LOG: Final = logging.getLogger(__name__)


@pytest.fixture(scope="module")
def yard(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Served, dict[str, str]]]:
    """A service that lets nobody in without a key, and the keys of two assessors and of a device."""
    folder = tmp_path_factory.mktemp("yard")
    records = f"sqlite:///{folder / 'records.sqlite3'}"
    keys: dict[str, str] = {}
    with open_store(records) as store:
        made = AccessKeys(store)
        for person in ("S-1", "S-2", "S-3"):
            keys[person] = made.make(person, ["read", "mark"], holder="person")[1].text
        keys["device"] = made.make("the tablet", ["assess"])[1].text
    with Served(root, folder, records, FITCHECK_KEYS="required") as served:
        yield served, keys


@pytest.fixture(scope="module")
def browser(yard: tuple[Served, dict[str, str]], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Phone]:
    with Phone(tmp_path_factory.mktemp("desk"), yard[0].url, DESK) as opened:
        yield opened


def fitted(served: Served, key: str, good: dict[str, Any], count: int, day: str) -> list[str]:
    """Have so many feet of one day assessed, every third with a nail too high; their ids."""
    ids = []
    for number in range(count):
        fitting = copy.deepcopy(good)
        horse, foot = divmod(number, len(FEET))
        fitting |= {"horse": {"id": f"H-{day}-{horse}"}, "visit": f"v-{day}-{horse}", "foot": FEET[foot]}
        fitting |= {"person": {"id": "A-7"}, "assessor": {"id": "S-0"}}
        fitting["observations"] = {**fitting["observations"], "history": {"fitted": day}}
        if number % 3 == 0:
            fitting["observations"]["nails"][1]["exit_height"] = 44
        if FEET[foot].endswith("hind"):
            fitting["observations"]["heel_fit"]["medial"]["width"] = 1.5
        answer = httpx.post(
            f"{served.url}/v1/assessments", json=fitting, headers={"authorization": f"Bearer {key}"}, timeout=60
        )
        assert answer.status_code == 201, answer.text
        ids.append(answer.json()["id"])
    return ids


def at_the_queue(browser: Phone, key: str, day: str, more: str = "") -> KeyedAssessor:
    browser.driver.delete_all_cookies()
    browser.resize(DESK)
    assessor = KeyedAssessor(browser)
    assessor.sign_in(key)
    to_the_queue(assessor, day, more)
    return assessor


def to_the_queue(assessor: KeyedAssessor, day: str, more: str = "") -> None:
    assessor.phone.driver.get(f"{assessor.phone.url}/desk/queue?from={day}&to={day}{more}")
    assessor.phone.until(lambda: assessor.ready, "the queue")


def grades(browser: Phone) -> list[str]:
    """The grade of each row of the form, empty where it has none yet."""
    found: list[str] = browser.run(
        "return [...document.querySelectorAll('fieldset')].map((each) => each.querySelector(':checked')?.value ?? '')"
    )
    return found


def marked(
    assessor: KeyedAssessor, ids: list[str], seen: Sequence[Mapping[str, str | None]] = BY_NUMBER
) -> list[list[dict[str, Any]]]:
    """Mark all that waits; what the service then has by hand of each foot."""
    assessor.go_on(Keys.ENTER)
    for number in range(len(ids)):
        assert assessor.path == "/desk/foot"
        assessor.mark(seen[number % len(seen)], "Mind the nails." if number % 5 == 0 else "")
        assessor.reasons("6")
    assert assessor.path == "/desk/queue"
    return [assessor.answer(f"/v1/assessments/{id_}/hand-marks")["hand_marks"] for id_ in ids]


def test_feet_are_marked_blind_by_keys_alone_one_after_another(
    browser: Phone, yard: tuple[Served, dict[str, str]], good: dict[str, Any]
) -> None:
    served, keys = yard
    ids = fitted(served, keys["device"], good, 4, "2026-03-04")
    first = at_the_queue(browser, keys["S-1"], "2026-03-04")
    every = marked(first, ids)
    assert [[each["assessor"]["id"] for each in of_foot] for of_foot in every] == [["S-1"]] * 4
    assert all(each["blind"] for of_foot in every for each in of_foot)
    assert {each["comment"] for of_foot in every for each in of_foot} == {"Mind the nails.", None}
    reasons = [
        change["reason"]
        for id_ in ids
        for each in first.answer(f"/v1/assessments/{id_}/overrides")["overrides"]
        for change in each["changes"]
    ]
    assert reasons
    assert set(reasons) == {"It does no harm on this foot."}
    assert first.pressed / len(ids) * 20 * SECONDS_A_KEY < TEN_MINUTES
    assert browser.complaints() == []


def test_a_foot_is_printed_on_one_page_and_four_feet_on_five(
    browser: Phone, yard: tuple[Served, dict[str, str]], good: dict[str, Any]
) -> None:
    """By the browser, from the links of the list: nobody at a desk has a command line."""
    served, keys = yard
    day = "2026-03-11"
    fitted(served, keys["device"], good, 4, day)
    at_the_queue(browser, keys["S-1"], day)
    for language, word in (("en", "To print"), ("de", "Zum Drucken")):
        browser.driver.get(f"{browser.url}/desk?from={day}&to={day}&lang={language}")
        links = [str(link.get_attribute("href")) for link in browser.all("td a") if link.text == word]
        foot, visit = (next(link for link in links if part in link) for part in ("/assessments/", "/visits/"))
        for address, most in ((foot, 1), (visit, 5)):
            browser.driver.get(address)
            assert browser.run("return getComputedStyle(document.body).fontSize") != "16px", "the style is let in"
            printed: Any = browser.driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})["data"]
            assert len(PdfReader(io.BytesIO(base64.b64decode(printed))).pages) <= most, address
    assert browser.complaints() == []


@pytest.mark.long
def test_every_key_does_what_its_list_says(
    browser: Phone, yard: tuple[Served, dict[str, str]], good: dict[str, Any]
) -> None:
    served, keys = yard
    day = "2026-03-05"
    ids = fitted(served, keys["device"], good, 2, day)
    assessor = at_the_queue(browser, keys["S-1"], day)
    assessor.go_on(Keys.ENTER)
    first = assessor.foot

    assessor.press("1", "3", "0")
    assert grades(browser)[:4] == ["good", "major", "unseen", ""]
    assessor.press("u", "u")
    assert grades(browser)[:3] == ["good", "", ""]
    assessor.press("2", Keys.ARROW_UP, Keys.ARROW_UP, "4")
    assert grades(browser)[:3] == ["critical", "minor", ""]
    assessor.press("u")
    assert grades(browser)[:3] == ["good", "minor", ""]
    assert not browser.run("return document.getElementById('keys').open")
    assessor.press("?")
    assert browser.run("return document.getElementById('keys').open")
    assessor.press(Keys.ENTER)
    assert browser.run("return document.querySelector('[data-status]').textContent") == "Something is not marked yet."
    assert assessor.foot == first
    assert browser.run("return document.activeElement.name") == f"grade.{assessor.criteria[2]}"
    assessor.press("c", "1", "s", "?", Keys.ENTER)
    assert browser.run("return document.getElementById('comment').value") == "1s?"
    assert grades(browser)[:3] == ["good", "minor", ""]
    assessor.go_on("s")
    assert assessor.foot != first
    assessor.go_on("b")
    assert assessor.foot == first
    assert [assessor.answer(f"/v1/assessments/{id_}/hand-marks")["hand_marks"] for id_ in ids] == [[], []]


def test_what_is_not_sent_yet_outlasts_a_lost_signal_and_a_session_and_is_nobody_elses(
    browser: Phone, yard: tuple[Served, dict[str, str]], good: dict[str, Any]
) -> None:
    served, keys = yard
    day = "2026-03-10"
    [id_] = fitted(served, keys["device"], good, 1, day)

    def begun(person: str) -> tuple[KeyedAssessor, list[str]]:
        """The foot as it is shown to that person, who signs in; the grades in its form."""
        browser.driver.delete_all_cookies()
        assessor = KeyedAssessor(browser)
        assessor.sign_in(keys[person])
        to_the_queue(assessor, day)
        assessor.go_on(Keys.ENTER)
        return assessor, grades(browser)

    assessor, _ = begun("S-1")
    assessor.press("1", "3", "c", *"Mind.", Keys.ENTER)
    # A click on the drawing leaves the keys with the row that had them.
    browser.all("figure")[0].click()
    assessor.press("2")
    seen = grades(browser)
    assert seen[:4] == ["good", "major", "minor", ""]
    browser.driver.refresh()
    browser.until(lambda: assessor.ready, "the same foot")
    assert grades(browser) == seen
    browser.signal(on=False)
    assessor.press(*("1" for _ in seen[3:]), Keys.ENTER)
    browser.until(lambda: not browser.all("form"), "no page without a signal")
    browser.signal(on=True)
    assert begun("S-2")[1] == [""] * len(seen)
    assessor, again = begun("S-1")
    assert again == [*seen[:3], *("good" for _ in seen[3:])]
    assessor.go_on(Keys.ENTER)
    [kept] = assessor.answer(f"/v1/assessments/{id_}/hand-marks")["hand_marks"]
    assert [each["grade"] for each in kept["criteria"]] == again
    assert kept["comment"] == "Mind."
    assert browser.run("return Object.keys(sessionStorage).filter((name) => name.includes('marks.S-1'))") == []


@pytest.mark.long
def test_a_reason_is_chosen_taken_back_or_written_by_keys(
    browser: Phone, yard: tuple[Served, dict[str, str]], good: dict[str, Any]
) -> None:
    served, keys = yard
    day = "2026-03-06"
    [id_] = fitted(served, keys["device"], good, 1, day)
    assessor = at_the_queue(browser, keys["S-1"], day)
    assessor.go_on(Keys.ENTER)
    assessor.mark({"finish": "minor"})
    assert assessor.criteria == ["nails", "finish"]
    assessor.press(Keys.ENTER)
    said = browser.run("return document.querySelector('[data-status]').textContent")
    assert said == "Say of each difference whose mark stands."
    assessor.press("1", "u", "0", "7", *"Rasp marks.", Keys.ENTER)
    assessor.go_on(Keys.ENTER)
    [override] = assessor.answer(f"/v1/assessments/{id_}/overrides")["overrides"]
    assert [(each["criterion"], each["reason"]) for each in override["changes"]] == [("finish", "Rasp marks.")]


@pytest.mark.parametrize("more", [pytest.param("", marks=pytest.mark.long), "&lang=de"])
def test_each_state_is_clean_by_axe_and_fits_a_desk_and_a_telephone(
    browser: Phone, yard: tuple[Served, dict[str, str]], good: dict[str, Any], more: str
) -> None:
    served, keys = yard
    day = f"2026-03-0{7 + bool(more)}"
    fitted(served, keys["device"], good, 2, day)
    assessor = at_the_queue(browser, keys["S-1"], day, more)

    def clean(state: str) -> None:
        assert browser.violations() == [], state
        assert browser.run("return document.documentElement.lang") == ("de" if more else "en")
        browser.resize(PHONE)
        assert not browser.scrolls_sideways(), state
        browser.resize(DESK)

    clean("the queue")
    assessor.go_on(Keys.ENTER)
    clean("blind")
    assessor.press("1", "?")
    clean("begun, with its keys")
    assessor.press("u")
    assessor.mark({"finish": "critical"}, "Gut." if more else "Good.")
    clean("compared")
    assessor.reasons("3")
    browser.driver.back()
    clean("with reasons")
    to_the_queue(assessor, day, more)
    assessor.go_on(Keys.ENTER)
    assessor.mark({})
    clean("without a difference")
    assessor.reasons("")
    clean("nothing left")


@pytest.mark.long
@pytest.mark.parametrize("more", ["", "&lang=de"])
def test_the_pages_made_of_marks_are_clean_by_axe_and_fit_a_telephone(
    browser: Phone, yard: tuple[Served, dict[str, str]], good: dict[str, Any], more: str
) -> None:
    served, keys = yard
    day = f"2026-02-0{1 + bool(more)}"
    ids = fitted(served, keys["device"], good, 2, day)
    for person in ("S-1", "S-2"):
        marked(at_the_queue(browser, keys[person], day), ids, STERNER[1:])
    for path in (
        f"/desk?sorted=horse&from={day}",
        f"/desk/marks?from={day}",
        f"/desk/practice?person=A-7&from={day}&to={day}",
        f"/desk/progress?person=A-7&from={day}",
        f"/desk/agreement?first=S-1&second=S-2&from={day}&to={day}",
        f"/desk/sheet?assessment={ids[0]}",
    ):
        browser.driver.get(f"{browser.url}{path}{more}")
        assert browser.violations() == [], path
        browser.resize(PHONE)
        assert not browser.scrolls_sideways(), path
        browser.resize(DESK)


@pytest.mark.long
def test_with_large_text_and_on_a_telephone_all_can_be_reached(
    browser: Phone, yard: tuple[Served, dict[str, str]], good: dict[str, Any]
) -> None:
    served, keys = yard
    day = "2026-03-09"
    fitted(served, keys["device"], good, 1, day)
    assessor = at_the_queue(browser, keys["S-2"], day)
    assessor.go_on(Keys.ENTER)
    for size in ((640, 450), (320, 225)):
        browser.resize(size)
        assert not browser.scrolls_sideways(), size
    browser.resize(DESK)


@pytest.mark.long
def test_twenty_feet_are_marked_by_two_assessors_within_ten_minutes_each_and_compared(
    browser: Phone,
    yard: tuple[Served, dict[str, str]],
    good: dict[str, Any],
) -> None:
    served, keys = yard
    day = datetime.now(UTC).date().isoformat()
    ids = fitted(served, keys["device"], good, 20, day)
    for person, seen in (("S-2", BY_NUMBER), ("S-3", STERNER)):
        assessor = at_the_queue(browser, keys[person], day)
        every = marked(assessor, ids, seen)
        assert [person in {each["assessor"]["id"] for each in of_foot} for of_foot in every] == [True] * 20
        _LOG.info("%s pressed %d keys for %d feet", person, assessor.pressed, len(ids))
        assert assessor.pressed * SECONDS_A_KEY < TEN_MINUTES, assessor.pressed
    agreement = assessor.answer("/v1/agreement?first=S-2&second=S-3")
    assert (agreement["feet"], agreement["blind"], agreement["differing"]) == (20, 40, 8)
    browser.driver.get(f"{browser.url}/desk/agreement?first=S-2&second=S-3")
    assert "S-2 and S-3 both judged 20 feet." in browser.text
    assert "Marks by hand among these judgements" in browser.text
    assert browser.violations() == []
