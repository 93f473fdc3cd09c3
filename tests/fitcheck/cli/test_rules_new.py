"""``fitcheck rules new`` and ``rules show --toml``: a book to begin with, and records ready to be laid over."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fitcheck.cli import BAD_USAGE, main
from fitcheck.rulebooks.record_toml import record_toml
from rules import load_rulebook, shipped_rulebook
from rules.analysis.difference import difference
from tests.support.yard_books import yard_folder

_SHIPPED = shipped_rulebook()


def _uncommented(text: str) -> str:
    """The lines of an example, without their marks."""
    return re.sub(r"(?m)^# (?=\[|[a-z_]+ = )", "", text)


def test_a_new_book_has_no_fault_and_changes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "High Meadow"
    assert main(["rules", "new", str(folder)]) == 0
    assert main(["rules", "check", str(folder)]) == 0, capsys.readouterr().err
    book = load_rulebook(folder)
    assert (book.id, book.title) == ("high-meadow", "Fitting rules of High Meadow")
    assert {change.part for change in difference(_SHIPPED, book).changes} == {"book"}


def test_its_example_changes_a_limit_once_the_marks_are_off(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "new", str(tmp_path), "--id", "ours", "--title", 'The "old" school']) == 0
    for file in ("sources.toml", "history.toml"):
        text = _uncommented((tmp_path / file).read_text(encoding="utf-8"))
        (tmp_path / file).write_text(text.replace("high = 42.0", "high = 35"), encoding="utf-8")
    assert main(["rules", "check", str(tmp_path)]) == 0, capsys.readouterr().err
    rule = load_rulebook(tmp_path).rules["interval-long"]
    assert (rule.high, rule.status, rule.sources) == (35.0, "own practice", ("OWN",))


def test_a_book_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    yard_folder(tmp_path)
    before = (tmp_path / "book.toml").read_bytes()
    assert main(["rules", "new", str(tmp_path)]) == BAD_USAGE
    assert (tmp_path / "book.toml").read_bytes() == before


@pytest.mark.parametrize("name", ["...", _SHIPPED.id])
def test_a_book_without_a_name_of_its_own_is_not_written(tmp_path: Path, name: str) -> None:
    assert main(["rules", "new", str(tmp_path), "--id", name]) == BAD_USAGE
    assert not list(tmp_path.iterdir())


def test_every_record_laid_over_as_it_is_shown_changes_nothing(tmp_path: Path) -> None:
    texts: dict[str, str] = {}
    for name in (*_SHIPPED.rules, *_SHIPPED.joined, *_SHIPPED.quantities):
        file = _SHIPPED.files[name].removesuffix(".toml")
        texts[file] = texts.get(file, "") + record_toml(name, _SHIPPED) + "\n"
    book = load_rulebook(yard_folder(tmp_path, **texts))
    assert (dict(book.rules), dict(book.joined)) == (dict(_SHIPPED.rules), dict(_SHIPPED.joined))
    assert dict(book.quantities) == dict(_SHIPPED.quantities)


def test_a_rule_and_a_quantity_are_shown_with_their_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "show", "heel-short", "--toml"]) == 0
    assert main(["rules", "show", "frog_gap", "--toml"]) == 0
    out = capsys.readouterr().out
    assert out.count("# In heel_fit.toml of your own book") == 2
    assert "\n[rules.heel-short]\n" in out
    assert "\n[quantities.frog_gap]\n" in out


def test_an_unknown_name_is_bad_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "show", "frog_gap"]) == BAD_USAGE
    assert "--toml" in capsys.readouterr().err
    assert main(["rules", "show", "nothing-such", "--toml"]) == BAD_USAGE


def test_a_misspelt_rule_is_met_with_those_near_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "show", "intervall-long"]) != 0
    assert "Near it: interval-long" in capsys.readouterr().err
