"""The pinned rulebook of the first contract: not one byte of it changes, and it can be chosen by its version."""

from __future__ import annotations

import json
from importlib.resources import files

import pytest

from fitcheck.cli import main
from fitcheck.rulebooks.selection import FIRST, SETTING, book_named
from rules import first_rulebook, load_rulebook, localized
from rules.loading.files import digest_of, read_texts
from rules.loading.translation import gaps
from tests.support.paths import ROOT

FOLDER = ROOT / "rules" / "first_book"
DIGEST = "sha256:30cc419f2b855292d255059c4c1a6cdb9b721f6a9424fd4a225e8888b52331bb"
GERMAN = "sha256:193c06157b73b50113750e6938cc2be45acbceda66a937efbc94b3632841dbcb"


def test_its_german_is_as_it_was_published() -> None:
    assert digest_of(read_texts(FOLDER / "languages" / "de")) == GERMAN


def test_version_and_digest_stay() -> None:
    book = first_rulebook()
    assert (book.id, book.version, book.digest) == ("shipped", "1.3.0", DIGEST)
    assert load_rulebook(FOLDER).digest == DIGEST


def test_it_is_part_of_the_package() -> None:
    assert (files("rules") / "first_book" / "book.toml").is_file()


def test_it_is_chosen_by_its_version(monkeypatch: pytest.MonkeyPatch) -> None:
    assert book_named(FIRST) is first_rulebook()
    monkeypatch.setenv(SETTING, FIRST)
    assert book_named() is first_rulebook()


def test_the_command_judges_by_it(capsys: pytest.CaptureFixture[str]) -> None:
    status = main(["assess", "--json", "--rulebook", FIRST, str(ROOT / "cases_demo" / "good-draught-fore.json")])
    answer = json.loads(capsys.readouterr().out)
    assert (status, answer["decision"], answer["rulebook"]["digest"]) == (0, "release", DIGEST)


def test_its_german_is_whole() -> None:
    assert gaps(first_rulebook(), "de") == ()
    assert localized(first_rulebook(), "de").cautions != first_rulebook().cautions


def test_it_passes_its_own_analysis(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "check", FIRST]) == 0, capsys.readouterr().out
