"""What a book has of its own is asked by the page in the group of its criterion, sent, and its finding shown."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest

from tests.support.own_quantities import OWN_BOOK, OWN_CLINCHES, OWN_FINISH, OWN_SOURCES
from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import begin, numbers
from tests.support.yard_books import yard_folder

pytestmark = pytest.mark.long

_ROOT = Path(__file__).parents[2]
_NUMBER = "observations.own.pad_thickness.medial_heel"
_WORD = "observations.own.polish.foot"


def test_a_number_and_a_word_of_a_books_own_are_asked_sent_and_judged(tmp_path: Path) -> None:
    (tmp_path / "book").mkdir()
    book = yard_folder(tmp_path / "book", OWN_BOOK, sources=OWN_SOURCES, finish=OWN_FINISH)
    records = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    with (
        Served(_ROOT, tmp_path, records, FITCHECK_RULEBOOK=str(book)) as service,
        Phone(tmp_path / "profile", service.url) as phone,
    ):
        begin(phone.open("/?lang=en"), stage="finished")
        phone.tap("group-hand")
        [row] = phone.all(f".row[data-at='{_NUMBER}']")
        assert "thickness of the pad" in row.text.lower()
        phone.touch(row.find_element("css selector", "summary"))
        assert "Measure the pad beside the shoe" in row.text
        phone.tap(f"pick-{_WORD}-rusty")
        numbers(phone, _NUMBER, "9")
        if phone.all("#panel-close"):
            phone.tap("panel-close")
        phone.tap("send")
        phone.until(lambda: phone.all("[data-decision]"), "the answer")
        [finding] = phone.all(".finding[data-rule='pad-thick']")
        assert "The pad is 9 mm thick" in str(finding.get_attribute("textContent"))
        kept = httpx.get(f"{service.url}/v1/assessments/{phone.where.removeprefix('answer/')}").json()
        assert {each["rule"] for each in kept["findings"]} >= {"pad-thick", "polish-lost"}
        assert phone.complaints() == []


def test_what_a_book_of_ones_own_reads_at_each_nail_is_asked_there_and_judged(tmp_path: Path) -> None:
    (tmp_path / "book").mkdir()
    book = yard_folder(tmp_path / "book", OWN_BOOK, sources=OWN_SOURCES, clinches=OWN_CLINCHES)
    records = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    with (
        Served(_ROOT, tmp_path, records, FITCHECK_RULEBOOK=str(book)) as service,
        Phone(tmp_path / "profile", service.url) as phone,
    ):
        begin(phone.open("/?lang=en"), stage="nailed")
        phone.tap("to-about")
        phone.tap("nails-6")
        phone.tap("about-done")
        phone.tap("place-nail:medial:2")
        phone.tap("pick-nail:medial:2.own.bedding-on_the_horn")
        if phone.all("#panel-close"):
            phone.tap("panel-close")
        phone.tap("place-nail:medial:1")
        numbers(phone, "nail:medial:1.own.clinch_width", "2")
        if phone.all("#panel-close"):
            phone.tap("panel-close")
        phone.tap("send")
        phone.until(lambda: phone.all("[data-decision]"), "the answer")
        assert len(phone.all(".finding[data-rule='clinch-narrow']")) == 1
        kept = httpx.get(f"{service.url}/v1/assessments/{phone.where.removeprefix('answer/')}").json()
        found = {(each["rule"], each["place"]) for each in kept["findings"]}
        assert found >= {("clinch-narrow", "nail:medial:1"), ("clinch-on-the-horn", "nail:medial:2")}
        sent = httpx.get(f"{service.url}/v1/assessments/{kept['id']}/fitting").json()["observations"]["nails"]
        assert [nail.get("own") for nail in sent[:3]] == [{"clinch_width": 2}, {"bedding": "on_the_horn"}, None]
        assert phone.complaints() == []
