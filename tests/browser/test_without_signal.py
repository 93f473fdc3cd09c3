"""No signal in the yard: what was tapped stays, the page opens all the same, and each fitting goes out once."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import begin, enter, go_to


@pytest.fixture
def fitting(root: Path) -> dict[str, Any]:
    text = (root / "cases_demo" / "tight-heels-good-toe.json").read_text(encoding="utf-8")
    whole: dict[str, Any] = json.loads(text)
    return whole


def kept_count(served: Served) -> int:
    return len(httpx.get(f"{served.url}/v1/assessments").json()["assessments"])


def worker_ready(phone: Phone) -> None:
    """The whole page lies in the browser's own store, and the worker answers for it."""
    script = "return navigator.serviceWorker.controller !== null"
    phone.until(lambda: phone.run(script), "the worker is there")


def test_a_draft_is_kept_at_every_tap_and_outlives_the_page(tmp_path: Path, service: Served, fitting: Any) -> None:
    with Phone(tmp_path / "profile", service.url) as phone:
        begin(phone.open(), fitting)
        phone.pick("observations.heel_fit.medial.width", "tight")
    with Phone(tmp_path / "profile", service.url) as phone:
        phone.open()
        [draft] = phone.all("[id^='draft-']")
        assert "Right fore" in draft.text
        phone.touch(draft)
        phone.until_step("heel_width")
        pressed = phone.get("pick-observations.heel_fit.medial.width-tight").get_attribute("aria-pressed")
        assert pressed == "true"


def test_a_foot_finished_without_a_signal_is_sent_when_the_service_is_back_and_once(
    tmp_path: Path, root: Path, fitting: Any
) -> None:
    served = Served(root, tmp_path, f"sqlite:///{tmp_path / 'records.sqlite3'}")
    with served:
        with Phone(tmp_path / "profile", served.url) as phone:
            phone.open()
            worker_ready(phone)
            phone.signal(on=False)
            enter(phone, fitting)
            phone.tap("send")
            phone.until(lambda: phone.all(".queue"), "it waits")
            assert "1 foot waits to be sent" in phone.text
        assert kept_count(served) == 0
        served.stop()
        with Phone(tmp_path / "profile", served.url) as phone:
            # Nothing answers now: what opens is what lies on the telephone.
            phone.open()
            phone.until(lambda: phone.all(".queue"), "it still waits")
            served.start()
            phone.tap("send-now")
            phone.until(lambda: phone.all("[id^='answer-']"), "the answer is in the list")
            assert not phone.all(".queue")
            [sent] = phone.all("[id^='answer-']")
            phone.touch(sent)
            phone.until(lambda: phone.all("[data-decision='put_right']"), "the answer")
        assert kept_count(served) == 1


@pytest.mark.long
def test_the_queue_goes_out_by_itself_when_the_page_is_opened_with_a_signal(
    tmp_path: Path, service: Served, fitting: Any
) -> None:
    before = kept_count(service)
    with Phone(tmp_path / "profile", service.url) as phone:
        phone.open()
        worker_ready(phone)
        phone.signal(on=False)
        enter(phone, fitting)
        phone.tap("send")
        phone.until(lambda: phone.all(".queue"), "it waits")
    with Phone(tmp_path / "profile", service.url) as phone:
        phone.open()
        phone.until(lambda: phone.all("[id^='answer-']"), "it was sent")
    assert kept_count(service) == before + 1


def test_an_answer_that_was_lost_on_its_way_leads_to_no_second_record(phone: Phone, service: Served) -> None:
    """The service keeps it, the telephone never hears: sent again with the same key and bytes."""
    before = kept_count(service)
    phone.open()
    begin(phone, {"foot": "left_hind", "stage": "hot_fit", "work": "riding"})
    go_to(phone, "review")
    phone.run(
        "const real = window.fetch; let lost = 0; window.keys = [];"
        "window.fetch = async (path, options) => {"
        "  const answer = await real(path, options);"
        "  if (!String(path).startsWith('/v1/assessments') || options.method !== 'POST') return answer;"
        "  window.keys.push(options.headers.get('idempotency-key'));"
        "  if (lost++ === 0) throw new TypeError('network');"
        "  return answer; };"
    )
    phone.tap("send")
    phone.until(lambda: phone.all(".queue"), "it waits")
    assert kept_count(service) == before + 1
    phone.tap("send-now")
    phone.until(lambda: phone.all("[id^='answer-']"), "the answer")
    assert kept_count(service) == before + 1
    first, second = phone.run("return window.keys")
    assert first == second


def test_a_fitting_that_the_service_fails_at_stands_in_no_other_ones_way(phone: Phone, service: Served) -> None:
    before = kept_count(service)
    phone.open()
    phone.run(
        "const real = window.fetch; window.fetch = (path, options) => options?.body?.includes('left_hind')"
        "  ? Promise.resolve(new Response(JSON.stringify({detail: 'The rules could not be run to their end.'}),"
        "      {status: 500}))"
        "  : real(path, options);"
    )
    for number, foot in enumerate(("left_hind", "left_fore")):
        begin(phone, {"foot": foot, "stage": "hot_fit", "work": "riding"})
        go_to(phone, "review")
        phone.tap("send")
        if number == 0:
            phone.until(lambda: phone.all(".queue"), "it waits")
            assert "The rules could not be run to their end." in phone.text
    phone.until(lambda: phone.all("[data-decision]"), "the other one is answered")
    assert kept_count(service) == before + 1
    phone.tap("to-start")
    phone.until(lambda: phone.all(".queue"), "the first one waits still")


def test_the_new_version_of_the_page_takes_the_place_of_the_old_one(phone: Phone) -> None:
    phone.open()
    worker_ready(phone)
    [cache] = phone.driver.execute_async_script("caches.keys().then(arguments[0])")
    base = str(phone.run("return document.querySelector('script[type=module]').src"))
    assert cache.removeprefix("fitcheck-") in base
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
