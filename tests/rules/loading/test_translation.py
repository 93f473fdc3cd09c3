"""The rulebook in other languages: complete, strict, and judging just as the book itself."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from fitcheck.cli import BAD_INPUT, main
from rules import Rulebook, RulebookError, evaluator_for, load_rulebook, localized, marking_of, shipped_rulebook
from rules.loading.texts import texts_of
from rules.loading.translation import gaps, languages_of
from tests.support.language_texts import GERMAN, leaves, placeholders, texts_in_book
from tests.support.yard_books import IDENTITY, OURS, OWN_RULE, off, yard_folder

SHIPPED = shipped_rulebook()
DE = localized(SHIPPED, "de")
ENGLISH = texts_in_book()
HEAD = '[language]\ntitle = "Deutsch"\ncomplete = false\n'
COMPLETE = HEAD.replace("false", "true")
Yard = Callable[..., Rulebook]


def german() -> dict[tuple[str, ...], str]:
    texts: dict[tuple[str, ...], str] = {}
    for file in GERMAN.glob("*.toml"):
        if file.name != "language.toml":
            texts |= dict(leaves(tomllib.loads(file.read_text(encoding="utf-8"))))
    return texts


@pytest.fixture
def yard(tmp_path: Path) -> Yard:
    """Loads a yard's book of these files; ``de`` are its German files by name."""

    def load(de: dict[str, str] | None = None, **files: str) -> Rulebook:
        folder = yard_folder(tmp_path, IDENTITY, **files)
        for name, text in (de or {}).items():
            (folder / "languages" / "de").mkdir(parents=True, exist_ok=True)
            (folder / "languages" / "de" / name).write_text(text, encoding="utf-8")
        return load_rulebook(folder)

    return load


# Whole and true.


def test_every_text_of_the_book_has_its_german() -> None:
    assert len(ENGLISH) > 700
    assert ENGLISH.keys() - german().keys() == set()


def test_a_german_text_has_the_placeholders_of_the_english_one() -> None:
    translated = german()
    unlike = {path for path, text in ENGLISH.items() if placeholders(text) != placeholders(translated[path])}
    assert unlike == set()


def test_no_german_text_is_the_english_one() -> None:
    translated = german()
    assert [path for path, text in ENGLISH.items() if translated[path] == text] == []


def test_the_loader_finds_no_gap_and_takes_every_text() -> None:
    assert gaps(SHIPPED, "de") == ()
    taken = texts_of(DE)
    assert {path: text for path, text in german().items() if taken[path] != text} == {}


def test_the_texts_that_the_loader_knows_are_those_in_the_files() -> None:
    published = ("title", "authors", "year")
    known = {path for path in texts_of(SHIPPED) if not (path[0] == "sources" and path[-1] in published)}
    assert known == set(ENGLISH)


# One book.


def test_the_book_in_german_is_the_same_book() -> None:
    assert (DE.id, DE.version, DE.digest, DE.inherits) == (SHIPPED.id, SHIPPED.version, SHIPPED.digest, None)
    assert (DE.language, SHIPPED.language) == ("de", "en")
    assert evaluator_for(DE) is evaluator_for(SHIPPED)


def test_nothing_but_texts_differs() -> None:
    texts = {"finding", "action", "basis", "gathered"}
    for part in ("rules", "joined"):
        for name, record in getattr(SHIPPED, part).items():
            assert getattr(DE, part)[name].model_dump(exclude=texts) == record.model_dump(exclude=texts)
    for name, quantity in SHIPPED.quantities.items():
        other = DE.quantities[name].model_dump(exclude={"title", "how", "range_basis"})
        assert other == quantity.model_dump(exclude={"title", "how", "range_basis"})
    assert DE.parameters["growth"].high == SHIPPED.parameters["growth"].high
    assert marking_of(DE).marks["nails"].marks == marking_of(SHIPPED).marks["nails"].marks
    assert marking_of(DE).best_first[0][1].title == "saubere Arbeit"


def test_it_is_made_once_and_leads_back() -> None:
    assert localized(SHIPPED, "de") is DE
    assert localized(DE, "de") is DE
    assert localized(DE, "en") is SHIPPED
    assert localized(SHIPPED, "en") is SHIPPED


def test_a_language_that_there_is_not_is_refused_with_those_that_there_are() -> None:
    assert languages_of(SHIPPED) == ("en", "de")
    with pytest.raises(RulebookError, match=r"Known: en, de"):
        localized(SHIPPED, "nl")


# Broken files: file and key are named.

RULE = "[rules.heel-short]\n"
BROKEN = [
    pytest.param({"a.toml": "[rule.heel-short]\n"}, None, None, id="an empty table of an unknown kind is nothing"),
    pytest.param({"a.toml": '[rule.heel-short]\nfinding = "x"\n'}, "a.toml", "rule: unknown key", id="unknown kind"),
    pytest.param(
        {"a.toml": '[criterion]\ntitle = "x"\n'}, "a.toml", "criterion: unknown key", id="criterion for criteria"
    ),
    pytest.param(
        {"a.toml": '[rules.heel-shorter]\nfinding = "x"\n'}, "a.toml", "rules.heel-shorter: the book", id="unknown rule"
    ),
    pytest.param(
        {"a.toml": f'{RULE}findings = "x"\n'}, "a.toml", "rules.heel-short.findings: the book", id="unknown key"
    ),
    pytest.param({"a.toml": f"{RULE}low = 3\n"}, "a.toml", "rules.heel-short.low: not a text", id="a figure"),
    pytest.param({"a.toml": f'{RULE}low = "3"\n'}, "a.toml", "rules.heel-short.low: the book", id="a figure as text"),
    pytest.param(
        {"a.toml": '[rules.heel-short.action]\nloose = "x"\n'},
        "a.toml",
        "rules.heel-short.action.loose: the book",
        id="unknown stage",
    ),
    pytest.param(
        {"a.toml": '[rules.heel-short.action.nailed]\nmore = "x"\n'},
        "a.toml",
        "rules.heel-short.action.nailed.more: the book",
        id="too deep",
    ),
    pytest.param(
        {"a.toml": '[rules]\nheel-short = "x"\n'}, "a.toml", "rules.heel-short: the book", id="not deep enough"
    ),
    pytest.param({"a.toml": f'{RULE}finding = ""\n'}, "a.toml", "rules.heel-short.finding: not a text", id="empty"),
    pytest.param(
        {"a.toml": f'{RULE}finding = "{"x" * 601}"\n'}, "a.toml", "rules.heel-short.finding: not a text", id="too long"
    ),
    pytest.param(
        {"a.toml": f'{RULE}finding = "Der {{side}}e Schenkel: {{value}}."\n'},
        "a.toml",
        "rules.heel-short.finding: the placeholder 'limit' is missing",
        id="placeholder missing",
    ),
    pytest.param(
        {"a.toml": f'{RULE}finding = "{{side}} {{value}} {{limit}} {{place}}"\n'},
        "a.toml",
        "rules.heel-short.finding: unknown placeholder 'place'",
        id="placeholder too many",
    ),
    pytest.param(
        {"a.toml": f'{RULE}finding = "{{side}} {{value:.1f}} {{limit}}"\n'},
        "a.toml",
        "has something after its name",
        id="placeholder with a format",
    ),
    pytest.param({"a.toml": f'{RULE}finding = "{{side"\n'}, "a.toml", "braces do not pair", id="braces"),
    pytest.param({"a.toml": f'{RULE}basis = "x"\nbasis = "y"\n'}, "a.toml", "line 3", id="twice in a file"),
    pytest.param(
        {"a.toml": f'{RULE}basis = "x"\n', "b.toml": f'{RULE}basis = "y"\n'},
        "b.toml",
        "rules.heel-short.basis: this text stands in another file too",
        id="twice in two files",
    ),
    pytest.param({"a.toml": "rules ="}, "de/a.toml", "not valid TOML", id="no TOML"),
    pytest.param({"language.toml": ""}, "language.toml", "language: this table is missing", id="no head"),
    pytest.param({"language.toml": None, "a.toml": ""}, "language.toml", "this file is missing", id="no head file"),
    pytest.param(
        {"language.toml": f"{HEAD}version = 1\n"}, "language.toml", "language.version: unknown key", id="head: unknown"
    ),
    pytest.param({"language.toml": f"{HEAD}[more]\n"}, "language.toml", "more: unknown key", id="head: unknown table"),
    pytest.param(
        {"language.toml": '[language]\ntitle = "x"\n'}, "language.toml", "language.complete: this is not", id="no claim"
    ),
    pytest.param(
        {"language.toml": HEAD.replace("false", '"no"')},
        "language.toml",
        "language.complete: this is not true or false",
        id="a claim that is a text",
    ),
]


@pytest.mark.parametrize(("files", "file", "said"), BROKEN)
def test_a_broken_language_file_is_told_with_file_and_key(
    files: dict[str, str | None], file: str | None, said: str | None, yard: Yard
) -> None:
    book = yard({name: text for name, text in {"language.toml": HEAD, **files}.items() if text is not None})
    if file is None or said is None:
        assert localized(book, "de").language == "de"
        return
    with pytest.raises(RulebookError) as caught:
        localized(book, "de")
    assert said in str(caught.value)
    assert file in caught.value.file


def test_text_that_is_not_utf_8_is_told(yard: Yard, tmp_path: Path) -> None:
    book = yard({"language.toml": HEAD})
    (tmp_path / "languages" / "de" / "a.toml").write_bytes(b"\xff")
    with pytest.raises(RulebookError, match="not UTF-8"):
        localized(book, "de")


def test_a_broken_language_hinders_nobody_who_does_not_ask_for_it(yard: Yard) -> None:
    assert localized(yard({"language.toml": "broken"}), "en").language == "en"


# Books that inherit.


def test_a_yards_changed_text_stays_in_its_own_language(yard: Yard) -> None:
    book = localized(yard(heel_fit=f"[rules.heel-width-wide]\nhigh = 4.0\n{OURS}"), "de")
    assert book.rules["heel-width-wide"].basis == "Common practice of the yard."
    assert book.rules["heel-width-wide"].finding == DE.rules["heel-width-wide"].finding
    assert book.rules["heel-width-wide"].high == 4.0
    assert book.title == "Low Meadow, own book"
    assert book.digest not in {SHIPPED.digest, ""}


def test_a_yard_brings_translations_of_its_own(yard: Yard) -> None:
    ours = yard(
        {
            "language.toml": HEAD,
            "ours.toml": '[rules.heel-bare]\nfinding = "Der Schenkel liegt {size} über dem Strahl."\n'
            '[rules.heel-width-wide]\nfinding = "{side}: {value}, höchstens {limit}"\n'
            '[off.heel-long]\nreason = "Nicht bei uns."\n[book]\ntitle = "Low Meadow, eigenes Buch"\n',
        },
        heel_fit=OWN_RULE + off("heel-long"),
        cautions='[cautions.own]\nstops = false\ntext = "Take care."\n',
    )
    book = localized(ours, "de")
    assert book.rules["heel-bare"].finding == "Der Schenkel liegt {size} über dem Strahl."
    assert book.rules["heel-bare"].action["nailed"] == "Open it."
    assert book.rules["heel-width-wide"].finding == "{side}: {value}, höchstens {limit}"
    assert book.rules["heel-width-tight"].finding == DE.rules["heel-width-tight"].finding
    assert (book.title, book.off["heel-long"]) == ("Low Meadow, eigenes Buch", "Nicht bei uns.")


def test_a_translation_of_a_rule_that_is_off_is_refused(yard: Yard) -> None:
    book = yard({"language.toml": HEAD, "ours.toml": '[rules.heel-long]\nbasis = "x"\n'}, heel_fit=off("heel-long"))
    with pytest.raises(RulebookError, match=r"rules\.heel-long: the book has no text of this name"):
        localized(book, "de")


# Gaps, and what the check of a book tells.


def test_what_a_complete_language_leaves_out_is_a_fault_of_the_book(
    yard: Yard, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files: dict[str, Any] = {"heel_fit": f"[rules.heel-width-wide]\nhigh = 4.0\n{OURS}"}
    book = yard({"language.toml": COMPLETE, "ours.toml": '[book]\ntitle = "Low Meadow, eigenes Buch"\n'}, **files)
    assert [(gap.file, gap.key) for gap in gaps(book, "de")] == [("heel_fit.toml", "rules.heel-width-wide.basis")]
    assert main(["rules", "check", str(tmp_path)]) == BAD_INPUT
    told = capsys.readouterr().err
    assert "languages/de/heel_fit.toml: rules.heel-width-wide.basis: Deutsch claims to be complete" in told
    assert "1 fault found" in told
    (tmp_path / "languages" / "de" / "language.toml").write_text(HEAD, encoding="utf-8")
    assert main(["rules", "check", str(tmp_path)]) == 0


def test_the_check_of_a_book_tells_of_a_broken_language(
    yard: Yard, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    yard({"language.toml": HEAD, "ours.toml": '[book]\nname = "x"\n'})
    assert main(["rules", "check", str(tmp_path)]) == BAD_INPUT
    assert "languages/de/ours.toml: book.name" in capsys.readouterr().err


def test_a_folder_that_is_no_language_is_told(yard: Yard, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    yard({"language.toml": HEAD})
    (tmp_path / "languages" / "Deutsch!").mkdir()
    assert main(["rules", "check", str(tmp_path)]) == BAD_INPUT
    assert "this is no language" in capsys.readouterr().err


def test_a_gap_of_the_shipped_german_is_found(tmp_path: Path) -> None:
    """The whole German taken for a yard's, without one of its texts."""
    folder = partial(yard_folder, tmp_path)()
    shutil.copytree(GERMAN, folder / "languages" / "nl")
    cautions = folder / "languages" / "nl" / "cautions.toml"
    lines = cautions.read_text(encoding="utf-8").splitlines()
    at = lines.index("[cautions.hot_iron]")
    cautions.write_text("\n".join([*lines[:at], *lines[at + 2 :]]), encoding="utf-8")
    book = load_rulebook(folder)
    assert [gap.key for gap in gaps(book, "nl")] == ["cautions.hot_iron.text"]
    assert localized(book, "nl").cautions["hot_iron"] == SHIPPED.cautions["hot_iron"]
