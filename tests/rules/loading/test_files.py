"""rules.loading.files: the shipped book as it was parsed beforehand, against Python's own TOML parser."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from rules.loading import files as book_files
from rules.loading.files import PARSED, parsed_text, read_texts, tables_of

TEXTS = read_texts(files("rules") / "book")
PARSED_TEXT = (files("rules") / PARSED).read_text(encoding="utf-8")


def by_toml(texts: dict[str, str]) -> dict[str, Any]:
    return {name: tomllib.loads(text) for name, text in texts.items()}


def changed(before: str, after: str) -> Callable[[Path], int]:
    assert before in PARSED_TEXT
    return lambda file: file.write_text(PARSED_TEXT.replace(before, after, 1), encoding="utf-8")


def no_toml(_text: str) -> Any:
    raise AssertionError("TOML was parsed")


def test_the_tables_parsed_beforehand_are_those_of_the_book_as_it_stands() -> None:
    assert parsed_text(TEXTS) == PARSED_TEXT, "Run: python -m rules.loading.parse_book"


def test_they_are_what_the_toml_parser_gives_in_value_type_and_order() -> None:
    # As text, since 1 == 1.0 == True.
    assert repr(tables_of(TEXTS)) == repr(by_toml(TEXTS))


def test_the_shipped_book_is_loaded_without_parsing_toml(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tomllib, "loads", no_toml)
    assert tables_of(TEXTS)["book.toml"]["book"]["id"] == "shipped"


@pytest.mark.parametrize(
    "change",
    [
        lambda texts: texts | {"book.toml": texts["book.toml"] + "# A remark.\n"},
        lambda texts: texts | {"another.toml": "[criterion]\n"},
        lambda texts: {name: text for name, text in texts.items() if name != "joined.toml"},
        lambda texts: texts | {"scorch.toml": texts["finish.toml"], "finish.toml": texts["scorch.toml"]},
        lambda _texts: {},
    ],
    ids=["a remark more", "a file more", "a file less", "two files changed about", "no file"],
)
def test_other_texts_are_parsed_themselves(change: Callable[[dict[str, str]], dict[str, str]]) -> None:
    texts = change(dict(TEXTS))
    assert tables_of(texts) == by_toml(texts)


@pytest.mark.parametrize(
    "harm",
    [
        Path.unlink,
        lambda file: file.write_bytes(b"\xff\xfe"),
        lambda file: file.write_text(PARSED_TEXT[: len(PARSED_TEXT) // 2], encoding="utf-8"),
        lambda file: file.write_text("", encoding="utf-8"),
        changed('"id": "shipped"', '"id": "another"'),
        changed("sha256:", "sha256:0"),
    ],
    ids=["missing", "not text", "cut short", "empty", "changed by hand", "of other files"],
)
def test_a_damaged_file_of_parsed_tables_is_passed_over(
    harm: Callable[[Path], object], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / PARSED).write_text(PARSED_TEXT, encoding="utf-8")
    monkeypatch.setattr(book_files, "files", lambda _package: tmp_path)
    with monkeypatch.context() as without:
        without.setattr(tomllib, "loads", no_toml)
        tables_of(TEXTS)
    harm(tmp_path / PARSED)
    assert tables_of(TEXTS) == by_toml(TEXTS)


@pytest.mark.parametrize("value", ["1979-05-27", "nan", "inf"])
def test_what_json_does_not_have_is_not_parsed_beforehand(value: str) -> None:
    with pytest.raises((TypeError, ValueError), match=r"JSON"):
        parsed_text({"book.toml": f"it = {value}\n"})
