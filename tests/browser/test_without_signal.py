"""No signal in the yard: what was tapped stays, the page opens all the same, and each fitting goes out once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.support.begun import case, put
from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import Thumb, begin

WIDTH = "observations.heel_fit.medial.width"


@pytest.fixture
def fitting() -> dict[str, Any]:
    return case("tight-heels-good-toe")


def kept_count(served: Served) -> int:
    return len(httpx.get(f"{served.url}/v1/assessments", params={"limit": 200}).json()["assessments"])


def worker_ready(phone: Phone) -> None:
    """The whole page lies in the browser's own store, and the worker answers for it."""
    script = "return navigator.serviceWorker.controller !== null"
    phone.until(lambda: phone.run(script), "the worker is there")


def wait_in_queue(phone: Phone) -> None:
    """Send without a signal, and go back to the four feet, where it waits."""
    phone.tap("send")
    phone.until(lambda: phone.all("main.first-look"), "the first look")
    phone.tap("leave")
    phone.until(lambda: phone.all(".queue"), "it waits")


def test_a_draft_is_kept_at_every_tap_and_outlives_the_page(tmp_path: Path, service: Served) -> None:
    with Phone(tmp_path / "profile", service.url) as phone:
        begin(phone.open("/?lang=en"), "right_fore")
        phone.tap("place-medial_heel")
        phone.tap(f"pick-{WIDTH}-tight")
    with Phone(tmp_path / "profile", service.url) as phone:
        phone.open("/?lang=en")
        assert phone.get("foot-right_fore").get_attribute("data-state") == "begun"
        phone.tap("foot-right_fore")
        phone.tap("place-medial_heel")
        assert phone.get(f"pick-{WIDTH}-tight").get_attribute("aria-pressed") == "true"


def test_a_foot_finished_without_a_signal_is_sent_when_the_service_is_back_and_once(
    tmp_path: Path, root: Path, fitting: Any
) -> None:
    served = Served(root, tmp_path, f"sqlite:///{tmp_path / 'records.sqlite3'}")
    with served:
        with Phone(tmp_path / "profile", served.url) as phone:
            phone.open("/?lang=en")
            worker_ready(phone)
            phone.signal(on=False)
            put(phone, fitting)
            wait_in_queue(phone)
            assert "1 foot waits to be sent" in phone.text
        assert kept_count(served) == 0
        served.stop()
        with Phone(tmp_path / "profile", served.url) as phone:
            # Nothing answers now: what opens is what lies on the telephone.
            phone.open("/?lang=en")
            phone.until(lambda: phone.all(".queue"), "it still waits")
            served.start()
            phone.tap("send-now")
            phone.until(lambda: phone.all("[id^='answer-']"), "the answer is in the list")
            assert not phone.all(".queue")
        assert kept_count(served) == 1


@pytest.mark.long
def test_a_day_of_twelve_feet_without_a_signal_goes_out_once_and_whole(tmp_path: Path, root: Path) -> None:
    """Three horses, every foot tapped through; the page is closed and opened between the horses."""
    with Served(root, tmp_path, f"sqlite:///{tmp_path / 'records.sqlite3'}") as served:
        with Phone(tmp_path / "profile", served.url) as phone:
            worker_ready(phone.open("/?lang=en"))
        served.stop()
        for horse in ("H-1", "H-2", "H-3"):
            with Phone(tmp_path / "profile", served.url) as phone:
                phone.open("/?lang=en")
                phone.tap("other-horse")
                phone.get("horse-name").send_keys(horse)
                phone.tap("take-horse")
                for foot in ("left_fore", "right_fore", "left_hind", "right_hind"):
                    begin(phone, foot)
                    Thumb(phone).good("heels", "toe", "seat", "imprint")
                    wait_in_queue(phone)
        served.start()
        assert kept_count(served) == 0
        with Phone(tmp_path / "profile", served.url) as phone:
            phone.open("/?lang=en")
            phone.until(lambda: kept_count(served) == 12, "all twelve go out")
            phone.until(lambda: not phone.all(".queue"), "nothing waits")
        kept = httpx.get(f"{served.url}/v1/assessments", params={"limit": 200}).json()["assessments"]
        assert len({(each["horse"], each["foot"]) for each in kept}) == 12


def test_the_first_look_says_what_to_do_at_once_and_lets_nothing_go(phone: Phone, fitting: Any) -> None:
    phone.open("/?lang=en")
    phone.signal(on=False)
    # What heat does inside the horn, and how long all holds took together, the service alone works out, and either may
    # stop the foot.
    for name in ("shoe_heat", "contact_time"):
        del fitting["observations"]["scorch"][name]
    put(phone, fitting)
    phone.tap("send")
    phone.until(lambda: phone.all("main.first-look"), "the first look")
    shown = {
        tuple(each.get_attribute(f"data-{name}") for name in ("rule", "place", "grade"))
        for each in phone.all(".finding")
    }
    assert {("heel-width-tight", f"{side}_heel", "major") for side in ("medial", "lateral")} <= shown
    assert "First look, made on this phone" in phone.text
    assert phone.all("main[data-first='put_right']")
    assert not phone.all("[data-decision]")
    phone.signal(on=True)


def test_a_foot_that_waits_can_be_opened_corrected_and_taken_back(phone: Phone, service: Served, fitting: Any) -> None:
    before = kept_count(service)
    phone.open("/?lang=en")
    phone.run("window.keptFetch = window.fetch; window.fetch = () => Promise.reject(new TypeError('network'))")
    put(phone, fitting)
    wait_in_queue(phone)
    [row] = phone.all(".queue li")
    sheet = row.get_attribute("data-sheet")
    phone.tap(f"open-{sheet}")
    phone.until(lambda: phone.all("main.first-look"), "it is shown")
    phone.tap("correct")
    phone.until(lambda: phone.all("main.foot"), "it can be corrected")
    phone.tap("place-medial_heel")
    phone.tap(f"pick-{WIDTH}-full")
    wait_in_queue(phone)
    body = phone.kept(f"sheet.{sheet}")["body"]
    assert '"width":"full"' in body
    phone.run("window.confirm = () => true")
    phone.tap(f"away-{sheet}")
    phone.until(lambda: not phone.all(".queue"), "taken back")
    phone.run("window.fetch = window.keptFetch")
    assert phone.kept(f"sheet.{sheet}") is None
    assert kept_count(service) == before


def test_a_connection_that_hangs_has_a_way_out(phone: Phone, fitting: Any) -> None:
    phone.open("/?lang=en")
    put(phone, fitting)
    phone.run("window.fetch = () => new Promise(() => 0)")
    phone.tap("send")
    phone.until(lambda: "It takes long." in phone.text, "after ten seconds it is said")
    phone.tap("leave")
    phone.until(lambda: phone.all(".queue"), "it waits, and the others can be done")
    other = "left_fore" if fitting["foot"] == "right_fore" else "right_fore"
    phone.tap(f"foot-{other}")
    phone.until(lambda: phone.all(f"main.foot[data-foot='{other}']"), "the next foot")


def test_an_answer_that_was_lost_on_its_way_leads_to_no_second_record(phone: Phone, service: Served) -> None:
    """The service keeps it, the telephone never hears: sent again with the same key and bytes."""
    before = kept_count(service)
    phone.open("/?lang=en")
    begin(phone, "left_hind", work="riding")
    phone.run(
        "const real = window.fetch; let lost = 0; window.keys = [];"
        "window.fetch = async (path, options) => {"
        "  const answer = await real(path, options);"
        "  if (!String(path).startsWith('/v1/assessments') || options.method !== 'POST') return answer;"
        "  window.keys.push(options.headers.get('idempotency-key'));"
        "  if (lost++ === 0) throw new TypeError('network');"
        "  return answer; };"
    )
    wait_in_queue(phone)
    phone.until(lambda: kept_count(service) == before + 1, "the service has kept it")
    phone.tap("send-now")
    phone.until(lambda: phone.all("[id^='answer-']"), "the answer")
    assert kept_count(service) == before + 1
    first, second = phone.run("return window.keys")
    assert first == second


def test_a_fitting_that_the_service_fails_at_stands_in_no_other_ones_way(phone: Phone, service: Served) -> None:
    before = kept_count(service)
    phone.open("/?lang=en")
    phone.run(
        "const real = window.fetch; window.fetch = (path, options) => options?.body?.includes('left_hind')"
        "  ? Promise.resolve(new Response(JSON.stringify({detail: 'The rules could not be run to their end.'}),"
        "      {status: 500}))"
        "  : real(path, options);"
    )
    begin(phone, "left_hind", work="riding")
    wait_in_queue(phone)
    assert "The rules could not be run to their end." in phone.text
    begin(phone, "left_fore", work="riding")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the other one is answered")
    assert kept_count(service) == before + 1
    phone.tap("to-start")
    phone.until(lambda: phone.all(".queue"), "the first one waits still")


def test_what_the_service_refuses_stands_beside_its_question_and_nothing_is_lost(phone: Phone, fitting: Any) -> None:
    phone.open("/?lang=en")
    fitting["observations"]["heel_fit"]["medial"]["length"] = 500
    put(phone, fitting)
    before = phone.kept(f"sheet.{phone.kept('current')}")["answers"]
    phone.tap("send")
    phone.until(lambda: phone.where == "foot" and phone.all(".refused"), "sent back")
    assert "Nothing is lost" in phone.text
    phone.touch(phone.all(".refused button")[0])
    phone.until(lambda: phone.all("#panel .fault"), "beside its question")
    assert phone.all("[aria-invalid='true'][data-at='observations.heel_fit.medial.length']")
    assert phone.kept(f"sheet.{phone.kept('current')}")["answers"] == before


def test_a_foot_that_was_begun_on_the_page_before_this_one_opens(phone: Phone, fitting: Any) -> None:
    """Release 1.0.0 kept a sheet without what is good, offered or before, and named the step it stood at."""
    phone.open("/?lang=en")
    put(phone, fitting)
    name = f"sheet.{phone.kept('current')}"
    phone.run(
        "const name = 'fitcheck.' + arguments[0]; const sheet = JSON.parse(localStorage.getItem(name));"
        "for (const part of ['good', 'offered', 'before', 'tried']) delete sheet[part];"
        "localStorage.setItem(name, JSON.stringify({ ...sheet, step: 'heel_length' }));",
        name,
    )
    phone.open("/?lang=en")
    phone.tap(f"foot-{fitting['foot']}")
    phone.until(lambda: phone.all("main.foot"), "the foot")
    phone.tap("good-heels")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")


def test_two_windows_on_one_foot_are_told_of_each_other(phone: Phone, fitting: Any) -> None:
    phone.open("/?lang=en")
    put(phone, fitting)
    first = phone.driver.current_window_handle
    phone.driver.switch_to.new_window("tab")
    try:
        phone.open("/?lang=en#foot")
        phone.tap("place-medial_heel")
        phone.tap(f"pick-{WIDTH}-wide")
        phone.driver.switch_to.window(first)
        phone.until(lambda: phone.all("#notice"), "the first window says so")
        # What is tapped here on what stands no more is not kept over it.
        phone.tap("show-other")
        phone.tap("place-medial_heel")
        assert phone.get(f"pick-{WIDTH}-wide").get_attribute("aria-pressed") == "true"
    finally:
        for handle in phone.driver.window_handles:
            if handle != first:
                phone.driver.switch_to.window(handle)
                phone.driver.close()
        phone.driver.switch_to.window(first)


def test_what_is_tapped_on_a_foot_that_changed_elsewhere_is_not_kept_over_it(phone: Phone, fitting: Any) -> None:
    phone.open("/?lang=en")
    put(phone, fitting)
    phone.tap("place-medial_heel")
    name = f"sheet.{phone.kept('current')}"
    phone.run(
        "const name = 'fitcheck.' + arguments[0]; const sheet = JSON.parse(localStorage.getItem(name));"
        "sheet.changed = 'elsewhere'; sheet.answers.notes = 'said elsewhere';"
        "localStorage.setItem(name, JSON.stringify(sheet));",
        name,
    )
    phone.tap(f"pick-{WIDTH}-wide")
    phone.until(lambda: phone.all("#notice"), "it is told")
    assert phone.kept(name)["answers"]["notes"] == "said elsewhere"
    assert phone.kept(name)["answers"][WIDTH] != "wide"


def test_a_full_telephone_says_so_and_keeps_what_it_had(phone: Phone, fitting: Any) -> None:
    phone.open("/?lang=en")
    put(phone, fitting)
    name = f"sheet.{phone.kept('current')}"
    before = phone.kept(name)
    phone.run("Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }")
    phone.tap("place-medial_heel")
    phone.tap(f"pick-{WIDTH}-wide")
    phone.until(lambda: "This phone has no room left." in phone.all("#notice")[0].text, "it is told")
    assert phone.kept(name) == before
    # What the screen shows is what is kept.
    assert phone.get(f"pick-{WIDTH}-wide").get_attribute("aria-pressed") == "false"
    assert phone.get(f"number-{WIDTH}").get_attribute("aria-pressed") == "true"
    ink, paper = phone.run(
        "const style = getComputedStyle(document.getElementById('notice-close'));"
        "return [style.color, style.backgroundColor]"
    )
    assert ink != paper


def test_a_chosen_word_that_is_tapped_again_stays(phone: Phone) -> None:
    begin(phone.open("/?lang=en"))
    phone.tap("place-medial_heel")
    for _ in range(2):
        phone.tap(f"pick-{WIDTH}-tight")
    assert phone.get(f"pick-{WIDTH}-tight").get_attribute("aria-pressed") == "true"
    phone.tap(f"clear-{WIDTH}")
    assert phone.get(f"pick-{WIDTH}-tight").get_attribute("aria-pressed") == "false"


def test_back_never_leads_to_a_dead_screen(phone: Phone, fitting: Any) -> None:
    phone.open("/?lang=en")
    put(phone, fitting)
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    for _ in range(3):
        phone.driver.back()
        if not phone.driver.current_url.startswith(phone.url):
            break
        phone.until(lambda: phone.all("main"), "something is shown")
        assert phone.all("main button") or phone.all(".thumb button")
    for address in ("waiting/none", "foot", "about", "trace", "nowhere"):
        phone.open(f"/?lang=en#{address}")
        assert phone.all("[id='foot-left_fore']"), address


def test_the_new_version_of_the_page_takes_the_place_of_the_old_one(phone: Phone) -> None:
    phone.open()
    worker_ready(phone)
    [cache] = phone.driver.execute_async_script("caches.keys().then(arguments[0])")
    assert cache.removeprefix("fitcheck-") in str(phone.run("return document.body.dataset.base"))
    phone.driver.execute_async_script("caches.open('fitcheck-0000').then(() => arguments[0]())")
    phone.driver.execute_async_script(
        "const done = arguments[0]; navigator.serviceWorker.getRegistration()"
        ".then((each) => each.unregister()).then(() => done())"
    )
    phone.open()
    worker_ready(phone)
    phone.until(
        lambda: phone.driver.execute_async_script("caches.keys().then(arguments[0])") == [cache], "old ones are gone"
    )
