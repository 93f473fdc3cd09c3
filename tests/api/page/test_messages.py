"""The page's texts: every language has the same ids and the same placeholders, and none was left in English."""

from __future__ import annotations

import json
import re

import pytest

from api.page.messages import page_text
from fitcheck.text.catalogue import languages, messages_in
from tests.support.paths import ROOT

FOLDER = ROOT / "api" / "page" / "static" / "messages"
SCRIPTS = FOLDER.parent / "js"
ALIKE = {
    "panel.digits",
    "unit.kg",
    "unit.mm",
    "unit.s",
    "unit.deg",
    "unit.percent",
    "side.medial.trade",
    "side.lateral.trade",
    "exercise.unit.mm",
    "exercise.unit.deg",
    "exercise.unit.percent",
}
"""Signs and Latin words that are the same in both."""


def texts(language: str) -> dict[str, str]:
    pairs: list[tuple[str, str]] = json.loads(
        (FOLDER / f"{language}.json").read_text(encoding="utf-8"), object_pairs_hook=lambda pairs: pairs
    )
    assert len({name for name, _ in pairs}) == len(pairs), "an id stands twice"
    return dict(pairs)


ENGLISH = texts("en")
OTHERS = sorted(file.stem for file in FOLDER.glob("*.json") if file.stem != "en")


def placeholders(text: str) -> list[str]:
    return sorted(re.findall(r"\{(\w+)\}", text))


def test_the_files_are_those_that_the_catalogue_makes() -> None:
    assert ("en", *OTHERS) == languages()
    for language in languages():
        assert (FOLDER / f"{language}.json").read_text(encoding="utf-8") == page_text(language)


def test_what_reports_say_too_is_said_in_their_words() -> None:
    assert ENGLISH["answer.actions"] == "What to do, in this order"
    assert texts("de")["answer.next"] == messages_in("de").texts["view.next_visit"]
    assert (ENGLISH["grade.minor"], texts("de")["foot.left_fore"]) == ("minor: let it go, note it", "Vorderhuf links")
    assert ENGLISH["answer.sources"] == messages_in("en").texts["view.sources"]


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_just_the_ids_of_english_in_their_order(language: str) -> None:
    assert list(texts(language)) == list(ENGLISH)


@pytest.mark.parametrize("language", OTHERS)
def test_a_text_has_the_placeholders_of_the_english_one(language: str) -> None:
    other = texts(language)
    assert {name for name in ENGLISH if placeholders(other[name]) != placeholders(ENGLISH[name])} == set()


@pytest.mark.parametrize("language", OTHERS)
def test_no_text_was_left_in_english(language: str) -> None:
    other = texts(language)
    assert {name for name in ENGLISH if other[name] == ENGLISH[name]} - ALIKE == set()
    assert not [name for name, text in other.items() if not text.strip()]


def test_each_text_that_a_script_asks_for_by_its_whole_id_is_there() -> None:
    asked = set()
    for file in SCRIPTS.rglob("*.js"):
        asked |= set(re.findall(r'\bt\("([a-z_.]+)"', file.read_text(encoding="utf-8")))
    assert len(asked) > 80
    assert asked - ENGLISH.keys() == set()
