"""The tool's own words: whole in both languages, with the same placeholders, none of them idle."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterable
from datetime import date

import pytest

from fitcheck.drawing import shipped_words
from fitcheck.text.catalogue import Messages, languages, messages_in
from fitcheck.text.format import amount_of, figure, lacking_title, place_title, places_title, shown
from rules import localized, shipped_rulebook
from tests.support.language_texts import leaves, placeholders
from tests.support.paths import ROOT

FOLDER = ROOT / "fitcheck" / "text"
NAMES = ("word", "quantity", "criterion", "foot", "context", "status", "grade", "origin")
"""Kinds of names: what a language does not name goes by its name in the JSON."""
BOOK = shipped_rulebook()
DE = messages_in("de")


def messages(language: str) -> dict[str, str]:
    document = tomllib.loads((FOLDER / f"{language}.toml").read_text(encoding="utf-8"))
    return {".".join(path): text for path, text in leaves(document)}


def without_names(texts: Iterable[str]) -> set[str]:
    return {name for name in texts if name.partition(".")[0] not in NAMES}


def test_there_are_messages_in_english_and_german() -> None:
    assert languages() == ("en", "de")
    assert [messages_in(name).language for name in ("en", "de")] == ["en", "de"]


def test_a_language_without_messages_is_told_in_english() -> None:
    assert messages_in("nl") is messages_in("en")


def test_both_languages_have_the_same_messages() -> None:
    assert without_names(messages("de")) == without_names(messages("en"))


def test_a_message_has_the_same_placeholders_in_both() -> None:
    english, german = messages("en"), messages("de")
    unlike = {name for name in without_names(english) if placeholders(english[name]) != placeholders(german[name])}
    assert unlike == set()


def test_a_drawings_words_are_the_same_in_both_with_the_same_placeholders() -> None:
    english, german = shipped_words("en").texts, shipped_words("de").texts
    assert german.keys() == english.keys()
    assert {name for name in english if placeholders(english[name]) != placeholders(german[name])} == set()
    assert (shipped_words("de").language, shipped_words("nl").language) == ("de", "en")


def test_every_message_that_is_asked_for_is_there() -> None:
    asked = set()
    for file in (ROOT / "fitcheck").rglob("*.py"):
        if "drawing" not in file.parts:
            source = file.read_text(encoding="utf-8")
            asked |= set(re.findall(r'(?:say|counted)\(\s*"([a-z_]+\.[a-z_]+)"', source))
    known = messages("en")
    assert len(asked) > 50
    assert {name for name in asked if name not in known and f"{name}.other" not in known} == set()


def test_no_message_is_idle() -> None:
    """Each stands in the code by its whole name, or by its last part where the name is put together."""
    source = "\n".join(
        file.read_text(encoding="utf-8") for file in (ROOT / "fitcheck").rglob("*.py") if "drawing" not in file.parts
    )
    whole = {"unit", "list", "joint", "side", "nail_side", "report.stage", "report.decision", "report.grade"}
    idle = []
    for name in without_names(messages("en")):
        stem = name.removesuffix(".one").removesuffix(".other")
        kind, _, last = stem.rpartition(".")
        put_together = kind in whole or re.search(rf"{kind}\.[a-z_]*\{{", source) is not None
        if stem not in source and not put_together and not re.search(rf"\b{last}\b", source):
            idle.append(name)
    assert idle == []


# German names everything that it may be asked for.


def test_german_names_every_quantity_word_and_criterion_of_the_book() -> None:
    words = {word for quantity in BOOK.quantities.values() for word in quantity.words or ()}
    words |= {word for known in BOOK.eye_words.values() for word in known}
    words |= {"riding", "harness", "draught", "regular", "acute", "upright", "base_wide", "base_narrow", "fore", "hind"}
    wanted = {f"word.{word}" for word in words}
    wanted |= {f"quantity.{name}" for name in BOOK.quantities} | {f"criterion.{name}" for name in BOOK.criteria}
    wanted |= {f"status.{record.status}" for record in (*BOOK.rules.values(), *BOOK.joined.values())}
    wanted |= {f"grade.{rule.grade}" for rule in BOOK.rules.values()}
    assert wanted - messages("de").keys() == set()


def test_german_titles_of_criteria_are_those_of_the_german_book() -> None:
    for name, criterion in localized(BOOK, "de").criteria.items():
        assert DE.named("criterion", name) == criterion.title


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


def test_a_limit_is_shown_as_the_book_has_it() -> None:
    assert (figure(0.667, "1"), figure(0.667, "1", "de"), figure(3.25, "mm", "de")) == ("0.667", "0,667", "3,25 mm")


def test_days_and_lists_and_counts() -> None:
    assert DE.day(date(2026, 3, 4)) == "04.03.2026"
    assert messages_in("en").day(date(2026, 3, 4)) == "2026-03-04"
    assert DE.listed(["Zehe"]) == "Zehe"
    assert DE.listed(["Zehe", "Sohle", "Strahl"]) == "Zehe, Sohle und Strahl"
    assert DE.listed([]) == ""
    assert DE.counted("decision.major", 1) == "ein schwerer Befund"
    assert DE.counted("decision.major", 3) == "3 schwere Befunde"


def test_a_name_without_a_message_goes_by_itself() -> None:
    bare = Messages("nl", {})
    assert (bare.named("quantity", "frog_gap"), bare.word("too_deep"), bare.word("too_deep", spaced=False)) == (
        "frog gap",
        "too deep",
        "too_deep",
    )
    with pytest.raises(KeyError):
        bare.say("report.found")


def test_places_and_what_was_not_assessed_in_german() -> None:
    book = localized(BOOK, "de")
    assert place_title("nail:medial:2", book) == "Nagel innen 2"
    assert places_title(["medial_heel", "toe", "toe"], book) == "Trachte innen und Zehe"
    assert lacking_title("soundness", book) == "Gang"
    assert lacking_title("nails.sound@nail:lateral:3", book) == "Nägel: Klang, Nagel außen 3"
    assert lacking_title("own.thing@toe", book) == "own.thing@toe"
    assert lacking_title("nails.sound@nail:lateral:3", BOOK) == "nails.sound@nail:lateral:3"


def calls_of_messages() -> list[tuple[str, int, set[str], set[str]]]:
    """Each call of ``say`` with a message named in place: where, the ids, and the names of what it fills in."""
    found = []
    for package in ("api", "fitcheck", "rules"):
        for path in sorted((ROOT / package).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if not (
                    isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "say"
                ):
                    continue
                constants = {part.value for part in ast.walk(node.args[0]) if isinstance(part, ast.Constant)}
                ids = {name for name in constants if isinstance(name, str) and name in messages("en")}
                names = {keyword.arg for keyword in node.keywords if keyword.arg is not None}
                if ids and all(keyword.arg for keyword in node.keywords):
                    found.append((str(path.relative_to(ROOT)), node.lineno, ids, names))
    return found


def test_every_message_is_filled_with_all_that_it_asks_for() -> None:
    calls = calls_of_messages()
    assert len(calls) > 50
    lacking = [
        (file, line, name)
        for file, line, ids, names in calls
        for name in ids
        if not placeholders(messages("en")[name]) <= names
    ]
    assert lacking == []
