"""``fitcheck agreement``: over a store, or over exports of records."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.cli import main
from fitcheck.records import open_store
from fitcheck.stored.rater_report import Agreement
from tests.support.raters import gone_over, judged

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def url(tmp_path: Path) -> str:
    """A store where S-1 and S-2 differ on one of three feet, and S-2 went over another."""
    address = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    with open_store(address) as store:
        pairs: list[tuple[JudgedGrade, JudgedGrade]] = [("good", "good"), ("minor", "major")]
        for number, (one, two) in enumerate(pairs):
            store.keep_many(
                [
                    judged(grade, f"{rater}-{number}", assessor=rater, visit=f"v-{number}")
                    for rater, grade in (("S-1", one), ("S-2", two))
                ]
            )
        store.keep_many([judged("minor", "x", assessor="S-1", visit="v-2")])
        gone_over(store, "x", {"what": "strike", "finding": "nail-low@nail:medial:1"}, by="S-2")
    return address


def test_the_comparison_is_told_in_sentences_with_the_feet_in_dispute(url: str, capsys: Captured) -> None:
    assert main(["agreement", "S-1", "S-2", "--records", url]) == 0
    said = capsys.readouterr().out
    assert said.startswith("S-1 and S-2 both judged 3 feet.")
    assert "  - H-1, left fore, visit v-1, finished: nails minor: major" in said
    assert "  - H-1, left fore, visit v-2, finished: nails minor: good" in said


def test_the_comparison_is_told_in_german(url: str, capsys: Captured) -> None:
    assert main(["agreement", "S-1", "S-2", "--records", url, "--language", "de"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("S-1 und S-2 beurteilten beide 3 Hufe.")
    assert "Wo sie sich unterscheiden (S-1: S-2)" in said
    assert "  - H-1, Vorderhuf links, Termin v-2, fertig: Nägel gering: gut" in said


def test_as_json_it_is_what_the_service_answers(url: str, capsys: Captured) -> None:
    assert main(["agreement", "S-2", "tool", "--json", "--records", url]) == 0
    found = Agreement.model_validate_json(capsys.readouterr().out)
    assert (found.first, found.second, found.overrides) == ("S-2", "tool", 1)


def test_raters_without_a_foot_in_common_are_told_by_the_status(url: str, capsys: Captured) -> None:
    assert main(["agreement", "S-1", "S-3", "--records", url]) == 1
    assert "both judged no feet" in capsys.readouterr().out


def test_days_bound_what_is_compared(url: str, capsys: Captured) -> None:
    assert main(["agreement", "S-1", "S-2", "--records", url, "--until", "2026-03-04"]) == 1
    capsys.readouterr()


def test_exports_are_compared_like_the_store_they_come_from(url: str, tmp_path: Path, capsys: Captured) -> None:
    out = str(tmp_path / "out.ndjson")
    assert main(["records", "export", "--records", url, "--output", out]) == 0
    capsys.readouterr()
    assert main(["agreement", "S-1", "S-2", "--json", "--records", url]) == 0
    from_store = json.loads(capsys.readouterr().out)
    assert main(["agreement", "S-1", "S-2", "--json", "--from", out]) == 0
    assert json.loads(capsys.readouterr().out) == from_store
    bad = tmp_path / "bad.ndjson"
    bad.write_text("{\n", encoding="utf-8")
    assert main(["agreement", "S-1", "S-2", "--from", out, str(bad)]) == 0
    assert "line 1" in capsys.readouterr().err


def test_what_cannot_be_compared_is_told(url: str, tmp_path: Path, capsys: Captured) -> None:
    assert main(["agreement", "S-1", "S-1", "--records", url]) == 65
    assert main(["agreement", "S-1", "S-2", "--from", str(tmp_path / "none")]) == 70
    assert main(["agreement", "S-1", "S-2", "--records", f"sqlite:///{tmp_path / 'none.sqlite3'}"]) == 70
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("fitcheck agreement: ") == 3
    assert "Traceback" not in said.err
