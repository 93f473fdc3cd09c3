"""A service that wants a key: the page asks for it, sends it in a header, and keeps it only where it was told to."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from fitcheck.records import open_store
from fitcheck.records.keys import AccessKeys
from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import begin


@pytest.fixture
def guarded(root: Path, tmp_path: Path) -> Iterator[tuple[Served, str]]:
    """A service that lets nobody in without a key, and a key for it."""
    records = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    with open_store(records) as store:
        _, token = AccessKeys(store).make("Low Meadow", ("assess", "read"))
    with Served(root, tmp_path, records, FITCHECK_KEYS="required") as served:
        yield served, token.text


def give(phone: Phone, token: str) -> None:
    phone.write("key", token)
    phone.tap("use-key")
    phone.until(lambda: "The service answers." in phone.text, "the key is good")


def stored(phone: Phone) -> str:
    return str(phone.run("return JSON.stringify([{...localStorage}, {...sessionStorage}, document.cookie])"))


def test_the_key_is_asked_for_sent_in_a_header_and_forgotten(guarded: tuple[Served, str], tmp_path: Path) -> None:
    served, token = guarded
    with Phone(tmp_path / "profile", served.url) as phone:
        phone.open()
        assert "Access key needed" in phone.text
        assert not phone.all("#foot-left_fore")
        phone.tap("give-key")
        phone.write("key", "hoof_0123456789ab_" + "Q" * 43)
        phone.tap("use-key")
        phone.until(lambda: "Not accepted" in phone.text, "a wrong key is told")
        give(phone, token)
        phone.tap("to-start")
        begin(phone)
        phone.tap("send")
        phone.until(lambda: phone.all("[data-decision]"), "the answer, with the key")
        phone.run("document.querySelectorAll('details').forEach((each) => each.setAttribute('open', ''))")
        phone.until(lambda: phone.all(".sheet-drawing img"), "the drawing, with the key")
        # A link cannot carry the key, so that addresses stand as text.
        assert not phone.all("main .links a")
        assert "/report.html" in phone.text
        assert token not in stored(phone)
        requests = phone.requests()
        assert not [each for each in requests if token in each["url"] or token in each.get("postData", "")]
        assert [each for each in requests if token in str(each["headers"])]
        phone.open()
        assert "Good to leave" not in phone.text
        phone.tap("to-settings")
        assert phone.get("key").get_property("value") == ""


@pytest.mark.long
def test_the_key_outlives_the_page_where_that_was_chosen_until_it_is_taken_away(
    guarded: tuple[Served, str], tmp_path: Path
) -> None:
    served, token = guarded
    with Phone(tmp_path / "profile", served.url) as phone:
        phone.open()
        phone.tap("give-key")
        phone.tap("keep-key")
        give(phone, token)
    with Phone(tmp_path / "profile", served.url) as phone:
        phone.open()
        assert phone.get("foot-left_fore").is_enabled()
        assert token in stored(phone)
        phone.tap("to-settings")
        phone.write("key", "")
        phone.tap("use-key")
        phone.until(lambda: token not in stored(phone), "taken away")


def test_what_waits_for_a_key_is_kept_and_sent_with_it(guarded: tuple[Served, str], tmp_path: Path) -> None:
    served, token = guarded
    with Phone(tmp_path / "profile", served.url) as phone:
        phone.open()
        phone.tap("give-key")
        give(phone, token)
        phone.open()  # the rulebook stays, the key does not
        begin(phone)
        phone.tap("send")
        phone.until(lambda: phone.all("main.first-look"), "the first look")
        phone.tap("leave")
        phone.until(lambda: phone.all(".queue"), "it waits")
        assert "The service wants an access key" in phone.text
        phone.tap("queue-key")
        give(phone, token)
        phone.tap("to-start")
        phone.until(lambda: phone.all("[id^='answer-']"), "it was sent")
