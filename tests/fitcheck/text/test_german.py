"""The demo feet told in German: the same decisions and numbers, and no English sentence in any of it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.cli import main
from fitcheck.drawing import draw
from fitcheck.explanation.explain import explain
from fitcheck.fitting.validation import parse_fitting
from fitcheck.marking import OverrideRequest, mark_of, override_of
from fitcheck.pairs import pairs_of
from fitcheck.report.explanation_text import render_explanation
from fitcheck.report.marks_text import render_marks
from fitcheck.report.terminal import render
from rules import localized, shipped_rulebook
from tests.support.language_texts import english_pieces, strings
from tests.support.paths import ROOT

CASES = ROOT / "cases_demo"
NAMES = sorted(
    file.relative_to(CASES).as_posix()
    for file in (*CASES.glob("*.json"), *(CASES / "fore_pair").glob("*_fore.json"))
    if ".answer" not in file.name
)
BOOK = shipped_rulebook()
DE = localized(BOOK, "de")
PIECES = english_pieces()
TOLD = {"finding", "action", "caution", "why", "say", "title", "where", "text", "follows", "applies", "method", "how"}
"""Keys of what is told; all other values are the same in every language."""
LISTS = {"actions", "notes", "cautions", "remarks"}


def fitting_of(name: str) -> Any:
    return parse_fitting(json.loads((CASES / name).read_text(encoding="utf-8")), BOOK)


def bare(document: Any) -> Any:
    """The document without what is told: ids, decisions, numbers, names."""
    if isinstance(document, list):
        return [bare(part) for part in document]
    if isinstance(document, dict):
        left_out = {"id", "created", "language"} if "rulebook" in document else set()
        return {
            key: len(value) if key in LISTS else bare(value)
            for key, value in document.items()
            if key not in TOLD | left_out
        }
    return document


def english_in(text: str) -> set[str]:
    return {piece for piece in PIECES if piece in text}


def test_the_pieces_of_english_are_found_where_there_is_english() -> None:
    assert len(NAMES) >= 23
    assert len(PIECES) > 900
    fitting = fitting_of("flinch.json")
    assert len(english_in("\n".join(strings(json.loads(explain(fitting, BOOK).model_dump_json()))))) > 50


@pytest.mark.parametrize("name", NAMES)
def test_a_demo_foot_told_in_german_has_no_english_sentence_and_the_same_numbers(name: str) -> None:
    fitting = fitting_of(name)
    english, german = explain(fitting, BOOK), explain(fitting, DE)
    documents = [json.loads(each.model_dump_json()) for each in (english, german)]
    assert bare(documents[0]) == bare(documents[1])
    assert documents[1]["language"] == "de"
    assert "language" not in documents[0]
    told = "\n".join(strings(documents[1]))
    assert english_in(told) == set()
    assert re.search(r"\d\.\d+ (mm|u\b)", told) is None, "a decimal point in a German text"
    page = render(german, DE, title="x", width=10_000, whole=True) + render_explanation(
        german.explanation, DE, width=10_000
    )
    assert english_in(page) == set()
    assert re.search(r"\d\.\d+ (mm|u\b)", page) is None, "a decimal point in a German text"


@pytest.mark.parametrize("name", ["good-draught-fore.json", "flinch.json", "shoe-too-small.json", "traced-pinch.json"])
def test_a_drawing_of_a_german_assessment_is_in_german(name: str) -> None:
    fitting = fitting_of(name)
    drawing = draw(fitting, explain(fitting, DE), DE, form="sheet")
    text = "\n".join(re.findall(r">([^<]+)<", drawing))
    assert english_in(text) == set()
    assert 'lang="de"' in drawing
    assert "Zehe" in text


def test_two_feet_held_together_in_german() -> None:
    fittings = [fitting_of(name) for name in NAMES if name.startswith("fore_pair/")]
    english, german = ([json.loads(pair.model_dump_json()) for pair in pairs_of(fittings, book)] for book in (BOOK, DE))
    assert bare(english) == bare(german)
    assert english_in("\n".join(strings(german))) == set()
    assert german[1]["not_compared"][0]["say"] == "Kein Hinterhuf wurde angesehen."


@pytest.mark.parametrize("name", NAMES)
def test_a_sheet_of_marks_in_german_has_the_same_marks(name: str) -> None:
    fitting = fitting_of(name)
    english, german = (mark_of(assess(fitting, book), book) for book in (BOOK, DE))
    assert (german.tool.mark, german.tool.of, german.tool.percent) == (
        english.tool.mark,
        english.tool.of,
        english.tool.percent,
    )
    assert [each.mark for each in german.tool.criteria] == [each.mark for each in english.tool.criteria]
    told = [*strings(json.loads(german.model_dump_json())), render_marks(german, title="x", width=9999, language="de")]
    assert english_in("\n".join(told)) == set()


def test_an_assessors_changes_are_told_in_german() -> None:
    assessment = assess(fitting_of("shoe-too-small.json"), DE)
    changes = [
        {"what": "strike", "finding": "branches-far-uneven@foot", "reason": "gerade gesessen"},
        {"what": "regrade", "finding": "heel-too-short@lateral_heel", "grade": "minor", "reason": "zu kurz"},
        {"what": "set_mark", "criterion": "scorch", "mark": 5.5, "reason": "sauber"},
    ]
    asked = OverrideRequest.model_validate({"about": assessment.id, "assessor": {"id": "S-1"}, "changes": changes})
    override = override_of(asked, assessment, DE)
    sheet = mark_of(assessment, DE, [override])
    assert [change.say for change in sheet.changes] == [
        "Gestrichen, war schwer.",
        "Gezählt als gering, war schwer.",
        "5,5 von 6 gegeben.",
    ]
    told = render_marks(sheet, title="x", width=9999, language="de")
    assert "Punkte nach der Prüfung: " in told
    assert english_in(told) == set()


def test_the_command_tells_in_german_by_option_and_by_setting(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    case = str(CASES / "flinch.json")
    assert main(["assess", case]) == 2
    english = capsys.readouterr().out
    assert main(["assess", "--language", "de", case]) == 2
    german = capsys.readouterr().out
    assert german.startswith("flinch.json: Hinterhuf links, aufgenagelt\nEINHALTEN UND UNTERSUCHEN LASSEN")
    monkeypatch.setenv("FITCHECK_LANGUAGE", "de")
    assert main(["assess", case]) == 2
    assert capsys.readouterr().out == german
    assert main(["assess", "--language", "en", case]) == 2
    assert capsys.readouterr().out == english


def test_the_command_names_the_languages_that_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["assess", "--language", "nl", str(CASES / "flinch.json")]) == 65
    assert "Known: en, de" in capsys.readouterr().err


def test_the_service_does_not_start_in_a_language_that_there_is_not(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FITCHECK_LANGUAGE", "nl")
    assert main(["serve"]) == 65
    assert "Known: en, de" in capsys.readouterr().err


def test_bad_input_is_told_in_english_in_every_language(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "bad.json"
    file.write_text('{"foot": "third"}', encoding="utf-8")
    assert main(["assess", str(file)]) == 65
    english = capsys.readouterr().err
    assert main(["assess", "--language", "de", str(file)]) == 65
    assert capsys.readouterr().err == english
