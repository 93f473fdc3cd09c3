"""What goes wrong in a yard: fingers that bounce, telephones that are turned, no store, odd answers, odd names."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from selenium.webdriver import ActionChains

from tests.support.begun import case, put
from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import Thumb, begin, take_horse

pytestmark = pytest.mark.long

LENGTH = "observations.heel_fit.medial.length"
NO_STORE = (
    "for (const name of ['localStorage', 'sessionStorage', 'indexedDB'])"
    " Object.defineProperty(window, name, { get() { throw new DOMException('denied', 'SecurityError'); } });"
)
SHEETS = "return Object.keys(localStorage).filter((name) => name.startsWith('fitcheck.sheet.')).length"


def test_a_german_number_has_a_comma_and_takes_a_point_as_well(phone: Phone) -> None:
    begin(phone.open("/?lang=de"))
    phone.tap("place-medial_heel")
    phone.tap(f"number-{LENGTH}")
    [point] = phone.all(".key[data-key='.']")
    assert (point.text, point.get_attribute("aria-label")) == (",", "Komma")
    for key in ("\N{MINUS SIGN}", "2", ".", "5"):
        phone.touch(phone.all(f".key[data-key='{key}']")[0])
    assert phone.get("keypad-shown").text.split()[0] == "\N{MINUS SIGN}2,5"
    keys = ActionChains(phone.driver, duration=0)
    for typed in ("\b\b,4", "\b\b.4"):
        keys.send_keys(*typed.replace("\b", "\ue003")).perform()
        assert phone.get("keypad-shown").text.split()[0] == "\N{MINUS SIGN}2,4"
    phone.tap("panel-close")
    assert "\N{MINUS SIGN}2,4 mm" in phone.get("group-heels").text
    assert Thumb(phone).send()["observations"]["heel_fit"]["medial"]["length"] == -2.4


@pytest.mark.parametrize("size", [(740, 360), (360, 740)], ids=["turned", "large"])
def test_the_sheet_of_a_place_comes_into_sight(tmp_path: Path, service: Served, size: tuple[int, int]) -> None:
    text_px = 16 if size[0] > size[1] else 32
    with Phone(tmp_path / "profile", service.url, size, text_px=text_px) as phone:
        begin(phone.open("/?lang=de"))
        for tap in ("place-medial_heel", f"number-{LENGTH}"):
            phone.tap(tap)
            top = phone.run("return document.getElementById('panel').getBoundingClientRect().top")
            assert 0 <= top < size[1] / 3, tap
        phone.tap("panel-close")
        box = phone.get("place-medial_heel").rect
        scrolled = phone.run("return scrollY")
        assert scrolled <= box["y"] <= scrolled + size[1]
        assert phone.run("return document.activeElement.id") == "place-medial_heel"


def test_turning_the_telephone_loses_nothing(phone: Phone) -> None:
    begin(phone.open("/?lang=en"))
    phone.tap("place-medial_heel")
    phone.tap("pick-observations.heel_fit.medial.width-tight")
    for size in ((740, 360), (360, 740)):
        phone.resize(size)
        assert phone.get("pick-observations.heel_fit.medial.width-tight").get_attribute("aria-pressed") == "true"
        assert not phone.scrolls_sideways()


def test_a_finger_that_bounces_sends_once_and_begins_nothing(phone: Phone, service: Served) -> None:
    phone.open("/?lang=en")
    put(phone, case("tight-heels-good-toe"))
    before = len(httpx.get(f"{service.url}/v1/assessments", params={"limit": 200}).json()["assessments"])
    ActionChains(phone.driver, duration=0).double_click(phone.get("send")).perform()
    phone.until(lambda: phone.all("[data-decision]"), "the answer, and not what stood at its place")
    assert phone.run(SHEETS) == 0
    after = len(httpx.get(f"{service.url}/v1/assessments", params={"limit": 200}).json()["assessments"])
    assert after == before + 1


def test_a_bounce_on_as_before_does_not_say_good(phone: Phone) -> None:
    phone.open("/?lang=en")
    put(phone, case("tight-heels-good-toe"))
    Thumb(phone).send()
    phone.tap("onward")
    phone.until(lambda: phone.all("#before-seat"), "tried again")
    phone.run("document.getElementById('before-seat').scrollIntoView({ block: 'center', behavior: 'instant' })")
    ActionChains(phone.driver, duration=0).double_click(phone.get("before-seat")).perform()
    sheet = phone.kept(f"sheet.{phone.kept('current')}")
    assert sheet["answers"]["observations.levelness.rocks"] is False
    assert sheet["good"] == {}


def test_quick_taps_on_groups_that_were_scrolled_to_all_count(phone: Phone) -> None:
    """Each lies at the same spot of the screen, since one scrolls between."""
    begin(phone.open("/?lang=en"))
    phone.run(
        "window.taps = 0; addEventListener('click', ({ target }) => { if (target.closest('.group-good')) taps += 1; });"
    )
    for group in ("heels", "toe", "seat", "imprint"):
        phone.tap(f"good-{group}")
    assert phone.run("return taps") == 4
    assert len(phone.all(".group-good[aria-pressed='true']")) == 4


def test_two_quick_taps_on_one_key_are_two(phone: Phone) -> None:
    begin(phone.open("/?lang=en"))
    phone.tap("place-medial_heel")
    phone.tap(f"number-{LENGTH}")
    ActionChains(phone.driver, duration=0).double_click(phone.all(".key[data-key='1']")[0]).perform()
    assert phone.get("keypad-shown").text.split()[0] == "11"


@pytest.fixture
def keeps_nothing(tmp_path: Path, service: Served) -> Iterator[Phone]:
    """A browser that gives the page no store at all."""
    with Phone(tmp_path / "profile", service.url) as phone:
        phone.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": NO_STORE})
        yield phone


def test_a_browser_that_keeps_nothing_says_so_and_works(keeps_nothing: Phone) -> None:
    phone = keeps_nothing.open("/?lang=de")
    assert "behält für diese Seite nichts" in phone.get("not-kept").text
    take_horse(phone, "H-9")
    begin(phone)
    Thumb(phone).good("heels", "toe", "seat", "imprint").send()
    phone.tap("to-start")
    assert phone.get("foot-left_fore").get_attribute("data-state") in {"incomplete", "go_on"}
    assert phone.get("heading").text == "H-9"
    assert phone.complaints() == []


@pytest.mark.parametrize("name", ["constructor", "__proto__", "🐴 Bless", "حصان أسود", "x" * 64])
def test_a_horse_may_have_any_name(phone: Phone, name: str) -> None:
    phone.open("/?lang=en")
    take_horse(phone, name)
    begin(phone)
    phone.tap("good-heels")
    sent = Thumb(phone).send()
    assert sent["horse"]["id"] == name
    phone.tap("to-start")
    assert phone.get("foot-left_fore").get_attribute("data-state") == "incomplete"
    assert phone.all("h1 bdi")[0].text == name
    assert not phone.scrolls_sideways()
    # Another day it is known again.
    phone.tap("foot-right_fore")
    phone.until(lambda: phone.all("main.foot"), "the foot beside it")
    assert phone.complaints() == []


def test_each_window_has_its_own_horse_at_hand(phone: Phone) -> None:
    phone.open("/?lang=en")
    take_horse(phone, "H-1")
    begin(phone)
    first = phone.driver.current_window_handle
    phone.driver.switch_to.new_window("tab")
    try:
        phone.open("/?lang=en")
        take_horse(phone, "H-2")
        begin(phone, "right_hind")
        phone.driver.switch_to.window(first)
        phone.tap("good-heels")
        assert phone.all("main.foot[data-foot='left_fore']")
        assert phone.all("h1 .top-stage")[0].text == "H-1"
        phone.tap("good-toe")
        assert Thumb(phone).send()["horse"]["id"] == "H-1"
        phone.tap("to-start")
        assert phone.get("heading").text == "H-1"
    finally:
        for handle in phone.driver.window_handles:
            if handle != first:
                phone.driver.switch_to.window(handle)
                phone.driver.close()
        phone.driver.switch_to.window(first)


def answer_with(phone: Phone, status: int, body: str, content: str) -> None:
    """Have every foot that is sent answered with this."""
    phone.run(
        "const [status, body, type] = arguments; window.keptFetch ??= window.fetch;"
        "window.fetch = (path, options) => options?.method === 'POST'"
        "  ? Promise.resolve(new Response(body, { status, headers: { 'content-type': type } }))"
        "  : window.keptFetch(path, options);",
        status,
        body,
        content,
    )


PAGE = "<!doctype html><title>Sign in</title><p>Welcome to the network."
ODD = [(200, PAGE, "text/html"), (200, "{}", "application/json"), (200, "null", "application/json")]
LATER = [(429, "{}", "application/problem+json"), (500, PAGE, "text/html"), (503, "[]", "application/json")]


@pytest.mark.parametrize(("status", "body", "content"), ODD + LATER)
def test_what_is_no_answer_leaves_the_foot_in_the_queue(phone: Phone, status: int, body: str, content: str) -> None:
    phone.open("/?lang=de")
    put(phone, case("tight-heels-good-toe"))
    answer_with(phone, status, body, content)
    phone.tap("send")
    phone.until(lambda: phone.all("#sending") and "wartet" in phone.get("sending").text, "it waits")
    phone.tap("leave")
    phone.until(lambda: phone.all(".queue"), "it stands in the queue")
    phone.run("window.fetch = window.keptFetch")
    phone.tap("send-now")
    phone.until(lambda: not phone.all(".queue") and phone.all("[id^='answer-']"), "it is sent")
    assert phone.complaints() == []


@pytest.mark.parametrize("body", ['{"errors": null}', '{"title": "Too large", "errors": "none"}', PAGE])
def test_what_is_too_large_comes_back_and_can_be_corrected(phone: Phone, body: str) -> None:
    phone.open("/?lang=de")
    put(phone, case("tight-heels-good-toe"))
    answer_with(phone, 413, body, "application/problem+json")
    phone.tap("send")
    phone.until(lambda: phone.where == "foot" and phone.all(".refused"), "it is back")
    assert "Nichts ist verloren" in phone.text
    assert phone.complaints() == []


def test_a_service_that_fails_at_its_rulebook_asks_for_no_key(phone: Phone) -> None:
    phone.open("/?lang=en")
    phone.run(
        "const real = window.fetch; window.fetch = (path, options) => String(path).includes('/v1/rulebook')"
        "  ? Promise.resolve(new Response('', { status: 500 })) : real(path, options);"
    )
    phone.tap("to-settings")
    phone.tap("use-key")
    phone.tap("to-start")
    phone.until(lambda: phone.all("#trouble"), "it is told")
    assert not phone.all("#give-key")
    phone.tap("foot-left_fore")
    phone.until(lambda: phone.all("main.foot"), "what is kept is asked by")


def test_a_clock_that_is_wrong_by_a_day_is_told(phone: Phone) -> None:
    phone.open("/?lang=en")
    assert not phone.all("#clock")
    phone.run("const real = Date.now; Date.now = () => real() - 864e5;")
    phone.tap("to-settings")
    phone.tap("use-key")
    phone.tap("to-start")
    phone.until(lambda: phone.all("#clock"), "it is told")


def test_an_answer_by_another_rulebook_has_the_page_ask_for_it(phone: Phone) -> None:
    phone.open("/?lang=en")
    phone.run(
        "const real = window.fetch; window.askedForBook = 0;"
        "window.fetch = async (path, options) => {"
        "  if (String(path).includes('/v1/rulebook')) window.askedForBook += 1;"
        "  const answer = await real(path, options); if (options?.method !== 'POST') return answer;"
        "  const body = await answer.json(); body.rulebook.digest = 'sha256:other';"
        "  return new Response(JSON.stringify(body), { status: answer.status }); };"
    )
    begin(phone)
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    phone.until(lambda: phone.run("return askedForBook") >= 1, "the rulebook is asked for")


def test_a_reload_in_the_middle_of_sending_leads_to_the_answer(phone: Phone) -> None:
    phone.open("/?lang=en")
    put(phone, case("tight-heels-good-toe"))
    phone.run("window.fetch = () => new Promise(() => 0)")
    phone.tap("send")
    phone.until(lambda: phone.all("main.first-look"), "on its way")
    phone.driver.refresh()
    phone.until(lambda: phone.all("[data-decision]"), "the answer")


def test_the_way_back_of_a_telephone_closes_the_sheet_first(phone: Phone) -> None:
    phone.open("/?lang=en")
    # The browser's own signal cannot be given by a driver: what hears it can.
    phone.run(
        "const Own = window.CloseWatcher; window.CloseWatcher = class extends Own"
        " { constructor() { super(); window.watching = this; } };"
    )
    begin(phone)
    phone.tap("place-medial_heel")
    phone.run("watching.requestClose()")
    phone.until(lambda: not phone.all("#panel"), "the sheet is closed")
    assert phone.all("main.foot")
    # Once closed it hears nothing more.
    phone.tap("place-medial_heel")
    phone.tap("panel-close")
    phone.run("watching.requestClose()")
    assert phone.all("main.foot")
    assert phone.complaints() == []


def test_a_foot_begun_on_another_day_says_so_and_can_be_begun_anew(phone: Phone) -> None:
    phone.open("/?lang=en")
    begin(phone)
    phone.tap("good-heels")
    assert not phone.all("#begun-earlier")
    old = f"sheet.{phone.kept('current')}"
    phone.run(
        "const name = 'fitcheck.' + arguments[0]; const sheet = JSON.parse(localStorage.getItem(name));"
        "sheet.begun = '2026-01-02T10:00:00.000Z'; localStorage.setItem(name, JSON.stringify(sheet));",
        old,
    )
    phone.open("/?lang=en")
    phone.tap("foot-left_fore")
    phone.until(lambda: phone.all("#begun-earlier"), "it is told")
    phone.run("window.confirm = () => true")
    phone.tap("anew")
    phone.until(lambda: not phone.all("#begun-earlier"), "begun anew")
    assert phone.kept(old) is None
    assert phone.all("main.foot[data-foot='left_fore']")
    assert phone.all("#good-heels[aria-pressed='false']")
