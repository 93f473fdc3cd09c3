"""``fitcheck marks``: the sheet in a terminal and as JSON, with the status of the assessment."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fitcheck.cli import main
from fitcheck.marking import MarkSheet, mark_of
from fitcheck.report.marks_text import render_marks
from tests.support.marked import BOOK, assessed, finding, overridden


@pytest.mark.parametrize(
    ("case", "status", "says"),
    [
        ("good-draught-fore", 0, "Marks: 85 of 85: clean work."),
        ("tight-heels-good-toe", 1, "Marks: 33 of 51: more practice."),
        ("flinch", 2, "Marks: No mark: a critical finding stops it."),
        ("incomplete", 3, "So far 76 of 76, out of 85 in all."),
    ],
)
def test_a_fitting_is_marked_and_the_status_is_that_of_its_decision(
    case: str, status: int, says: str, root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["marks", str(root / "cases_demo" / f"{case}.json")]) == status
    said = " ".join(capsys.readouterr().out.split())
    assert says in said
    assert "They decide nothing about the horse" in said


def test_several_fittings_are_marked_one_a_line_as_json(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [str(root / "cases_demo" / f"{case}.json") for case in ("incomplete", "flinch", "good-draught-fore")]
    assert main(["marks", "--json", *files]) == 2
    sheets = [MarkSheet.model_validate_json(line) for line in capsys.readouterr().out.splitlines()]
    assert [sheet.tool.state for sheet in sheets] == ["incomplete", "stopped", "whole"]


def test_a_bad_file_is_told_and_the_others_are_marked(
    root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "bad.json"
    bad.write_text(json.dumps({"foot": "left_fore"}), encoding="utf-8")
    assert main(["marks", str(bad), str(root / "cases_demo" / "good-draught-fore.json")]) == 65
    said = capsys.readouterr()
    assert "bad.json: stage: This key is missing." in said.err
    assert "85 of 85" in said.out


def test_a_yards_book_marks_by_its_own_name(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case, book = root / "cases_demo" / "full-heels-late.json", root / "cases_demo" / "yard_book"
    main(["marks", "--rulebook", str(book), str(case)])
    assert "Marked by Low Meadow's fitting rules" in capsys.readouterr().out


def test_the_text_shows_both_reckonings_with_the_assessors_reason() -> None:
    said = assessed(finding("heel_fit", "minor", "medial_heel"))
    change = {"what": "set_mark", "criterion": "finish", "mark": 4.5, "reason": "Rasp marks along the wall."}
    text = render_marks(mark_of(said, BOOK, [overridden(said, change)]), title="foot", width=80)
    flat = " ".join(text.split())
    assert "S-1: finish. Marked 4.5 of 6. Reason: Rasp marks along the wall." in flat
    assert "Marks, as the assessor has it: 96.3 of 100: clean work." in flat
    assert "Marks, as the tool has it: 97.8 of 100: clean work." in flat
    assert max(map(len, text.splitlines())) <= 80
