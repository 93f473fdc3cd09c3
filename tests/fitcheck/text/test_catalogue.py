"""The tool's own words: whole in both languages, with the same placeholders, none of them idle."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from datetime import date
from typing import Any

import pytest

from fitcheck.text import catalogue
from fitcheck.text.catalogue import COMMON, Messages, languages, messages_in
from fitcheck.text.format import amount_of, figure, place_name, place_title, places_title, shown, unobserved_title
from rules import localized, shipped_rulebook
from rules.toml import read_toml
from tests.support.language_texts import leaves, placeholders
from tests.support.message_uses import uses
from tests.support.paths import ROOT

FOLDER = ROOT / "fitcheck" / "text"
NAMES = ("word", "quantity", "foot", "context", "status", "grade", "origin")
"""Kinds of names: what a language does not name goes by its name in the JSON."""
BOOK = shipped_rulebook()
DE = messages_in("de")
USES = uses()
FILES = {file.stem for file in (FOLDER / "en").glob("*.toml")} - {COMMON}


def messages(language: str) -> dict[str, str]:
    """Every message by its name, out of the files; the same name twice is an error of TOML."""
    found: dict[str, str] = {}
    for file in sorted((FOLDER / language).glob("*.toml")):
        prefix = () if file.stem == COMMON else (file.stem,)
        document = tomllib.loads(file.read_text(encoding="utf-8"))
        found |= {".".join((*prefix, *path)): text for path, text in leaves(document)}
    return found


def without_names(texts: Iterable[str]) -> set[str]:
    return {name for name in texts if name.partition(".")[0] not in NAMES}


def test_there_are_messages_in_english_and_german() -> None:
    assert languages() == ("en", "de")
    assert [messages_in(name).language for name in ("en", "de")] == ["en", "de"]


def test_a_language_without_messages_is_told_in_english() -> None:
    assert messages_in("nl") is messages_in("en")


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_catalogue_has_every_message_of_its_files(language: str) -> None:
    assert dict(messages_in(language).texts) == messages(language)
    assert len(messages_in(language).texts) == len(messages(language))


def test_both_languages_have_the_same_files() -> None:
    english, german = ({file.name for file in (FOLDER / language).iterdir()} for language in ("en", "de"))
    assert english == german


def test_no_file_is_called_as_a_table_of_the_common_ones() -> None:
    tables = {name.partition(".")[0] for name in messages("de") if name.partition(".")[0] not in FILES}
    assert tables & FILES == set()


def test_both_languages_have_the_same_messages() -> None:
    assert without_names(messages("de")) == without_names(messages("en"))


def test_a_message_has_the_same_placeholders_in_both() -> None:
    english, german = messages("en"), messages("de")
    unlike = {name for name in without_names(english) if placeholders(english[name]) != placeholders(german[name])}
    assert unlike == set()


def test_a_file_is_read_when_the_first_of_its_messages_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """A command that assesses one fitting reads few of them."""
    read: list[str] = []

    def counted(text: str) -> dict[str, Any]:
        read.append(text)
        return read_toml(text)

    monkeypatch.setattr(catalogue, "read_toml", counted)
    messages_in.cache_clear()
    found = messages_in("en")
    assert (found.say("number.decimal"), found.say("list.and", before="a", last="b"), len(read)) == (".", "a and b", 1)
    assert (found.say("view.found"), len(read)) == ("Found", 2)
    messages_in.cache_clear()


def test_every_message_that_is_asked_for_is_there() -> None:
    known = messages("en")
    asked = [use for use in USES if use.asks]
    assert len(asked) > 200
    assert [use for use in asked if not any(map(use.fits, known))] == []


def test_no_message_is_idle() -> None:
    # Scripts ask for those of the page: see tests/api/page/test_messages.py.
    kinds = {"unit", "list", "side", "nail_side", "number", "page"}
    names = {name for name in without_names(messages("en")) if name.partition(".")[0] not in kinds}
    assert {name for name in names if not any(use.fits(name) for use in USES)} == set()


def test_every_message_is_filled_with_all_that_it_asks_for() -> None:
    known = messages("en")
    lacking = [
        (use.where, name, placeholders(text) - use.filled)
        for use in USES
        if use.filled is not None
        for name, text in known.items()
        if use.fits(name) and not placeholders(text) <= use.filled
    ]
    assert lacking == []


def test_a_use_is_found_in_every_form_in_which_a_message_is_asked_for() -> None:
    patterns = {use.pattern for use in USES}
    assert {r"view\.found", r"explanation\.decision\.major\.(?:none|one|other)"} <= patterns


# German names everything that it may be asked for.


def test_german_names_every_quantity_and_word_of_the_book() -> None:
    words = {word for quantity in BOOK.quantities.values() for word in quantity.words or ()}
    words |= {word for known in BOOK.eye_words.values() for word in known}
    words |= {"riding", "harness", "draught", "regular", "acute", "upright", "base_wide", "base_narrow", "fore", "hind"}
    wanted = {f"word.{word}" for word in words}
    wanted |= {f"quantity.{name}" for name in BOOK.quantities}
    wanted |= {f"status.{record.status}" for record in (*BOOK.rules.values(), *BOOK.joined.values())}
    wanted |= {f"grade.{rule.grade}" for rule in BOOK.rules.values()}
    assert wanted - messages("de").keys() == set()


# Numbers, days, lists.  That German has a decimal comma and days as 04.03.2026 is DIN 5008, from memory.


@pytest.mark.parametrize(
    ("value", "unit", "english", "german"),
    [
        (2.0, "mm", "2 mm", "2 mm"),
        (-2.46, "mm", "-2.5 mm", "-2,5 mm"),
        (0.944, "1", "0.94", "0,94"),
        (42.0, "d", "42 days", "42 Tage"),
        (1.2, "d", "1 day", "1 Tag"),
        (8.51, "mm/month", "8.5 mm a month", "8,5 mm im Monat"),
        (20.0, "deg", "20°", "20°"),
        (44.0, "degC", "44 °C", "44 °C"),
        (15.0, "s", "15 s", "15 s"),
    ],
)
def test_a_reading_is_shown_with_its_languages_mark_and_unit(
    value: float, unit: str, english: str, german: str
) -> None:
    assert (shown(value, unit), shown(value, unit, "de")) == (english, german)
    assert amount_of(value, unit) == pytest.approx(value, abs=0.5)


@pytest.mark.parametrize(
    ("value", "u", "unit", "said"),
    [
        (-1.5, 1.0, "mm", "-1.5 ± 1 mm"),
        (1.0, 2.0, "d", "1 ± 2 days"),
        (42.0, 3.0, "d", "42 ± 3 days"),
        (54.0, 2.0, "deg", "54 ± 2°"),
        (7.8, 0.39, "mm/month", "7.8 ± 0.39 mm a month"),
        (3.0, 0.5, "furlong", "3 ± 0.5 furlong"),
        (3.0, 0.0, "mm", "3 mm"),
    ],
)
def test_an_uncertainty_stands_between_number_and_unit(value: float, u: float, unit: str, said: str) -> None:
    assert shown(value, unit, u=u) == said


def test_a_limit_is_shown_as_the_book_has_it() -> None:
    assert (figure(0.667, "1"), figure(0.667, "1", "de"), figure(3.25, "mm", "de")) == ("0.667", "0,667", "3,25 mm")


def test_days_and_lists_and_counts() -> None:
    assert DE.day(date(2026, 3, 4)) == "04.03.2026"
    assert messages_in("en").day(date(2026, 3, 4)) == "2026-03-04"
    assert DE.listed(["Zehe"]) == "Zehe"
    assert DE.listed(["Zehe", "Sohle", "Strahl"]) == "Zehe, Sohle und Strahl"
    assert DE.listed([]) == ""
    assert DE.counted("explanation.decision.major", 1) == "ein schwerer Befund"
    assert DE.counted("explanation.decision.major", 3) == "3 schwere Befunde"


def test_a_name_without_a_message_goes_by_itself() -> None:
    bare = Messages("nl", {})
    assert (bare.named("quantity", "frog_gap"), bare.word("too_deep"), bare.word("too_deep", spaced=False)) == (
        "frog gap",
        "too deep",
        "too_deep",
    )
    with pytest.raises(KeyError):
        bare.say("view.found")


def test_places_and_what_was_not_assessed_in_german() -> None:
    book = localized(BOOK, "de")
    assert place_title("nail:medial:2", book) == "Nagel innen 2"
    assert places_title(["medial_heel", "toe", "toe"], book) == "Trachte innen und Zehe"
    assert unobserved_title("going", book) == "Gang"
    assert unobserved_title("nails.sound@nail:lateral:3", book) == (
        "Nägel: Klang und Gang des Nagels beim Einschlagen, Nagel außen 3"
    )
    assert unobserved_title("nails.evenness", BOOK).startswith("Nails: furthest that a nail's exit lies off")
    assert unobserved_title("own_size.thing@left_toe", book) == "own size: thing, left toe"


def test_a_place_stands_in_a_list_without_its_article() -> None:
    assert [place_name("medial_heel", book) for book in (BOOK, localized(BOOK, "de"))] == [
        "medial heel",
        "Trachte innen",
    ]
