"""rules.loading.files: the texts of a book in order, their tables, and a digest that covers every byte of them."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from rules import RulebookError, shipped_rulebook
from rules.loading.files import digest_of, read_texts, tables_of

TEXTS = read_texts(files("rules") / "book")


def test_the_tables_are_those_of_the_toml_files() -> None:
    assert tables_of(TEXTS) == {name: tomllib.loads(text) for name, text in TEXTS.items()}
    assert list(TEXTS) == sorted(TEXTS)


@pytest.mark.parametrize("change", ["a byte", "a name", "a file more", "a file less", "a cut elsewhere"])
def test_another_text_has_another_digest(change: str) -> None:
    texts = dict(TEXTS)
    name, text = next(iter(texts.items()))
    if change == "a byte":
        texts[name] = f"{text}\n"
    elif change == "a file more":
        texts["zz.toml"] = ""
    else:
        del texts[name]
    if change == "a name":
        texts[f"a{name}"] = text
    if change == "a cut elsewhere":
        following = next(iter(texts))
        texts |= {name: text[:-1], following: text[-1] + texts[following]}
    assert digest_of(TEXTS) == shipped_rulebook().digest
    assert digest_of(dict(sorted(texts.items()))) != digest_of(TEXTS)


def test_what_is_no_folder_or_no_text_is_told_by_its_name(tmp_path: Path) -> None:
    with pytest.raises(RulebookError, match="this is not a folder"):
        read_texts(tmp_path / "nowhere")
    (tmp_path / "book.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(RulebookError, match=r"book\.toml: byte 0: not UTF-8 text"):
        read_texts(tmp_path)
