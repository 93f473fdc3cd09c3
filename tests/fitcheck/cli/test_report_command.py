"""``fitcheck report``: a page from a file, a kept assessment or a kept visit."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.cli import main
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import draft_of, open_store
from tests.support.pages import page_of
from tests.support.paths import ROOT

CASES = ROOT / "cases_demo"
Captured = pytest.CaptureFixture[str]


@pytest.fixture
def kept(tmp_path: Path, good: dict[str, Any]) -> tuple[str, str]:
    """The address of a store with one good foot of the visit "v" of A-7, and the foot's id."""
    url = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    raw = json.dumps(good | {"visit": "v", "person": {"id": "A-7"}}).encode()
    fitting = parse_fitting(json.loads(raw))
    with open_store(url) as store:
        record = store.keep(draft_of(raw, fitting, assess(fitting))).record
    return url, record.id


def test_a_file_is_assessed_and_written_as_a_page(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "foot.html"
    assert main(["report", str(CASES / "high-nail.json"), "--output", str(out)]) == 0
    assert capsys.readouterr().out == ""
    text = page_of(out.read_text(encoding="utf-8")).text
    assert "PUT RIGHT before this foot leaves" in text
    assert "Record not kept" in text


def test_a_kept_foot_and_a_kept_visit_go_to_standard_output(kept: tuple[str, str], capsys: Captured) -> None:
    url, id_ = kept
    assert main(["report", id_, "--records", url]) == 0
    assert "Record number 1" in page_of(capsys.readouterr().out).text
    assert main(["report", "--visit", "v", "--records", url]) == 0
    assert next(page_of(capsys.readouterr().out).all("h1")).text == "Shoeing report: visit v"


def test_one_thing_at_a_time_is_reported(capsys: Captured) -> None:
    assert main(["report"]) == 64
    assert main(["report", "x", "--visit", "v"]) == 64
    assert "either" in capsys.readouterr().err


@pytest.mark.parametrize("what", [["x"], ["x" * 5000], ["--visit", "x"], [str(CASES)]])
def test_what_is_neither_file_nor_kept_is_told(what: list[str], kept: tuple[str, str], capsys: Captured) -> None:
    assert main(["report", *what, "--records", kept[0]]) == 65
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("fitcheck report: ")


def test_an_erased_foot_is_told_as_such(kept: tuple[str, str], capsys: Captured) -> None:
    url, id_ = kept
    with open_store(url) as store:
        store.erase("A-7", reason="asked for", created="2026-03-05T10:00:00.000Z")
    assert main(["report", id_, "--records", url]) == 65
    assert "erased" in capsys.readouterr().err


def test_bad_input_a_store_that_is_none_and_a_place_that_cannot_be_written_are_told(
    tmp_path: Path, capsys: Captured
) -> None:
    bad = tmp_path / "bad.json"
    bad.write_bytes(b"{}")
    assert main(["report", str(bad)]) == 65
    assert main(["report", "x", "--records", f"sqlite:///{bad}"]) == 70
    good = str(CASES / "high-nail.json")
    assert main(["report", good, "--output", str(tmp_path / "none" / "x.html")]) == 70
    assert "Traceback" not in capsys.readouterr().err


def test_a_report_is_in_the_language_that_is_asked_for(kept: tuple[str, str], capsys: Captured) -> None:
    url, id_ = kept
    file = str(CASES / "high-nail.json")
    for what in ([file], [id_, "--records", url], ["--visit", "v", "--records", url]):
        assert main(["report", *what, "--language", "de"]) == 0
        assert page_of(capsys.readouterr().out).text.startswith("Beschlagbericht: ")


def test_a_file_that_is_not_there_is_named_beside_the_store_that_was_looked_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = tmp_path / "none.sqlite3"
    assert main(["report", "fout.json", "--records", f"sqlite:///{store}"]) == 70
    said = capsys.readouterr().err
    assert '"fout.json" is no file here' in said
    assert f"there is no file {store}" in said
