"""Texts that would be script or markup are only ever text, and the policy of the page stops what is not its own."""

from __future__ import annotations

from typing import Any

import httpx
import pytest

from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import begin

TRIES = [
    "<script>window.hurt=1</script>",
    '"><img src=x onerror="window.hurt=1">',
    "<svg onload=window.hurt=1>",
    "javascript:window.hurt=1",
    "{{constructor.constructor('window.hurt=1')()}}",
    "'-window.hurt=1-'",
]


@pytest.mark.parametrize("text", [TRIES[0], *(pytest.param(text, marks=pytest.mark.long) for text in TRIES[1:])])
def test_a_stored_script_does_nothing(phone: Phone, text: str) -> None:
    begin(phone.open())
    phone.tap("to-about")
    for path in ("horse.id", "visit", "person.id", "assessor.id", "notes"):
        phone.write(f"text-{path}", text[:64])
    phone.tap("about-done")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]") or phone.all(".refused"), "an answer or a refusal")
    assert text[:20] in phone.run("return document.body.textContent") or phone.all(".refused")
    phone.open()
    phone.until(lambda: phone.all(".answer-row") or phone.all(".queue li"), "the list")
    assert phone.run("return window.hurt") is None
    assert not phone.all("#view script")
    assert not [each for each in phone.all("#view img") if str(each.get_attribute("src")).endswith("/x")]


def test_an_answer_that_another_program_kept_is_text_too(phone: Phone, service: Served) -> None:
    fitting: dict[str, Any] = {
        "foot": "left_fore",
        "stage": "hot_fit",
        "work": "draught",
        "horse": {"id": TRIES[1]},
        "visit": TRIES[0],
        "notes": TRIES[2],
        "observations": {"heel_fit": {"medial": {"width": "tight"}}},
    }
    kept = httpx.post(f"{service.url}/v1/assessments", json=fitting).json()["id"]
    phone.open(f"/#answer/{kept}")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    phone.run("document.querySelectorAll('details').forEach((each) => each.setAttribute('open', ''))")
    phone.until(lambda: phone.all(".sheet-drawing img"), "the drawing")
    assert phone.run("return window.hurt") is None


def test_an_address_that_is_markup_shows_nothing_of_it(phone: Phone) -> None:
    phone.open("/?lang=%3Cscript%3E#answer/%22%3E%3Cimg%20src=x%20onerror=window.hurt=1%3E")
    phone.until(lambda: phone.all("[role='alert']"), "said")
    assert phone.run("return window.hurt") is None
    assert phone.run("return document.documentElement.lang") == "en"


def test_the_policy_stops_inline_script_style_and_other_origins(phone: Phone) -> None:
    phone.open()
    phone.run(
        "window.stopped = [];"
        "addEventListener('securitypolicyviolation', (event) => stopped.push(event.effectiveDirective));"
        "const script = document.createElement('script'); script.textContent = 'window.hurt = 1';"
        "document.body.append(script);"
        "document.body.insertAdjacentHTML('beforeend', '<img src=x onerror=\"window.hurt=1\"><p style=\"color:red\">');"
        "fetch('http://elsewhere.invalid/').catch(() => 0);"
        "const frame = document.createElement('iframe'); frame.src = '/docs'; document.body.append(frame);"
        "setTimeout('window.hurt = 1');"
    )
    wanted = {"script-src-elem", "script-src-attr", "style-src-attr", "connect-src", "frame-src", "script-src"}
    phone.until(lambda: wanted <= set(phone.run("return stopped")), "all of it is stopped")
    assert phone.run("return window.hurt") is None


def test_nothing_is_asked_of_any_other_place(phone: Phone, service: Served) -> None:
    begin(phone.open())
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    asked = {request["url"] for request in phone.requests() if request["url"].startswith(("http", "ws"))}
    assert len(asked) > 3
    assert {url for url in asked if not url.startswith(f"{service.url}/")} == set()
