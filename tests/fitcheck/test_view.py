"""An assessed foot as it is told: each thing once, the same for terminal, HTML report and drawing."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.drawing import draw
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.validation import parse_fitting
from fitcheck.report.html import FootToReport, foot_report
from fitcheck.report.terminal import render
from fitcheck.view import FindingView, view_of
from rules import localized, shipped_rulebook
from tests.support.pages import page_of
from tests.support.paths import ROOT

CASES = ROOT / "cases_demo"
NAMES = sorted(path.stem for path in CASES.glob("*.json") if ".answer" not in path.name)
NAIL = "lateral nail 2"
BOOK = shipped_rulebook()
LINES_OF_A_TERMINAL = {"en": 40, "de": 42}  # German words are longer
MOST_OF_A_SHORT_TEXT = 3
BOOKS = {"en": BOOK, "de": localized(BOOK, "de")}


def fitting_of(name: str) -> Fitting:
    return parse_fitting(json.loads((CASES / f"{name}.json").read_text(encoding="utf-8")), BOOK)


def assessed(name: str, language: str = "en") -> Assessment:
    return assess(fitting_of(name), BOOKS[language])


def finding(name: str, rule: str, language: str = "en") -> FindingView:
    views = view_of(assessed(name, language), BOOKS[language]).findings
    return next(each for each in views if each.finding.rule == rule)


def in_one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("language", BOOKS)
@pytest.mark.parametrize("name", NAMES)
def test_terminal_report_and_drawing_say_what_the_view_says(name: str, language: str) -> None:
    book, fitting, assessment = BOOKS[language], fitting_of(name), assessed(name, language)
    view = view_of(assessment, book)
    text = in_one_line(render(assessment, book, title="x", whole=True))
    page = page_of(foot_report(FootToReport(fitting=fitting, assessment=assessment, book=book))).text
    drawing = page_of(draw(fitting, assessment, book, form="sheet"))
    description = "".join(each.text for each in drawing.all("desc"))
    for each in view.findings:
        for part in (each.grade_word, each.text, each.basis, each.limit, each.where, each.sure, each.why, each.sources):
            assert in_one_line(part) in text
            assert in_one_line(part) in page
        assert f"{each.number}, {each.grade_word}, {each.place}: {each.text}" in description
    for part in (view.title, view.decision, *view.actions, *view.cautions, *(need.text for need in view.needed)):
        assert in_one_line(part) in text
        assert in_one_line(part) in page
    for part in view.unobserved_besides:
        assert part in text
        assert part in page
    assert all(part in description for part in view.unobserved)


@pytest.mark.parametrize("language", BOOKS)
@pytest.mark.parametrize("name", NAMES)
def test_the_short_text_says_what_was_found_what_to_do_and_the_cautions_that_belong(name: str, language: str) -> None:
    book, assessment = BOOKS[language], assessed(name, language)
    view = view_of(assessment, book)
    text = render(assessment, book, title="x")
    told = in_one_line(text)
    for each in view.findings:
        for part in (each.grade_word, each.text, each.limit, each.where, each.sure, each.why, each.sources):
            assert in_one_line(part) in told
    for part in (view.decision, *view.actions, *(need.text for need in view.needed), view.next_visit):
        assert in_one_line(part) in told
    own = {each.caution for each in view.findings} | {book.standing["no_diagnosis"].text}
    assert [part for part in view.cautions if part in told] == [part for part in view.cautions if part in own]
    for criterion in {name.partition(".")[0] for name in assessment.not_assessed}:
        assert book.criteria[criterion].title in told
    if len(view.findings) <= MOST_OF_A_SHORT_TEXT:
        assert len(text.splitlines()) <= LINES_OF_A_TERMINAL[language]


def test_without_a_caution_that_nothing_is_a_diagnosis_all_cautions_are_told() -> None:
    assessment = assessed("tight-heels-good-toe")
    other = assessment.model_copy(update={"cautions": ("Our own caution.", *assessment.cautions[:1])})
    assert view_of(other, BOOK).cautions_that_belong == other.cautions


@pytest.mark.parametrize(
    ("name", "rule", "english", "german"),
    [
        (
            "shoe-too-small",
            "heel-not-covered",
            (
                "Length of the branch past the buttress: -2 ± 0.5 mm.",
                "Limit: 0 mm or more.",
                "How sure: more than 99 %.",
                "Sources: LA, USDA (published).",
            ),
            (
                "Länge des Schenkels über den Eckstrebenwinkel hinaus: -2 ± 0,5 mm.",
                "Grenze: 0 mm oder mehr.",
                "Wie sicher: mehr als 99 %.",
                "Quellen: LA, USDA (veröffentlicht).",
            ),
        ),
        (
            "flinch",
            "nail-flinch",
            ("How the horse takes the nail: flinch.", "", "", "Sources: LA (published)."),
            ("Wie das Pferd den Nagel annimmt: Zucken.", "", "", "Quellen: LA (veröffentlicht)."),
        ),
        (
            "high-nail-thin-wall",
            "close-nail-suspected",
            (
                "Thickness of the wall at the nail: 6 ± 0.5 mm.",
                "Limit: 6.3 mm or more.",
                "How sure: 76 %. A harm this grave is acted on even where it is unlikely.",
                "Sources: LA, trade (common practice).",
            ),
            (
                "Dicke der Wand am Nagel: 6 ± 0,5 mm.",
                "Grenze: 6,3 mm oder mehr.",
                "Wie sicher: 76 %. Bei so schwerem Schaden wird gehandelt, auch wenn er unwahrscheinlich ist.",
                "Quellen: LA, trade (Brauch des Handwerks).",
            ),
        ),
    ],
)
def test_a_finding_says_what_it_is_based_on(
    name: str, rule: str, english: tuple[str, ...], german: tuple[str, ...]
) -> None:
    for language, said in (("en", english), ("de", german)):
        view = finding(name, rule, language)
        assert (view.basis, view.limit, view.sure, view.sources) == said


def test_a_place_and_a_grade_have_one_name() -> None:
    view = finding("shoe-too-small", "heel-not-covered")
    assert (view.place, view.place_name, view.grade_word) == ("the medial heel", "Medial heel", "major")
    german = finding("shoe-too-small", "heel-not-covered", "de")
    assert (german.place, german.place_name, german.grade_word) == ("Trachte innen", "Trachte innen", "schwer")


def test_what_is_needed_is_not_told_again_as_not_assessed() -> None:
    view = view_of(assessed("incomplete"), BOOK)
    assert [need.criterion for need in view.needed] == ["Clinches", "Going", "Going"]
    assert "Going" in view.unobserved
    assert "Going" not in view.unobserved_besides


def test_what_another_rulebook_judged_is_told_by_its_own_names() -> None:
    document: dict[str, Any] = json.loads(assessed("shoe-too-small").model_dump_json())
    odd = document["findings"][1]
    odd |= {"criterion": "own_thing", "place": "left_bulb"}
    odd["measured"] |= {"quantity": "bulb_height", "unit": "furlong", "value": 3.0, "u": 0.5}
    document["not_assessed"].append("own_thing.bulb_width@left_bulb")
    view = view_of(Assessment.model_validate(document), BOOK)
    told = view.findings[1]
    assert (told.criterion, told.place, told.basis) == ("own thing", "left bulb", "Bulb height: 3 ± 0.5 furlong.")
    assert "own thing: bulb width, left bulb" in view.unobserved


def test_numbers_are_told_with_a_decimal_comma_in_german() -> None:
    for name in NAMES:
        for each in view_of(assessed(name, "de"), BOOKS["de"]).findings:
            assert re.search(r"\d\.\d", f"{each.basis} {each.limit} {each.sure}") is None
