"""The words of the drawing, by id, from one table for each language."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from fitcheck.text.catalogue import ENGLISH

__all__ = ["Words", "read_words", "shipped_words"]


@dataclass(frozen=True)
class Words:
    """Texts by id, such as ``plan.title``, in one ``language`` (BCP 47)."""

    language: str
    texts: Mapping[str, str]

    def say(self, name: str, **parts: object) -> str:
        """The text of that id with its parts put in; KeyError where the table has no such id."""
        return self.texts[name].format_map({key: str(part) for key, part in parts.items()})


def read_words(toml: str) -> Words:
    """A table of words from TOML: ``language``, and tables of texts."""
    table: dict[str, Any] = tomllib.loads(toml)
    language = str(table.pop("language"))
    return Words(language, {f"{part}.{name}": text for part, texts in table.items() for name, text in texts.items()})


@cache
def shipped_words(language: str = ENGLISH) -> Words:
    """The words in ``language``; in English where there are none."""
    folder = files("fitcheck.drawing")
    file = folder / f"words_{language}.toml"
    if not file.is_file():
        file = folder / "words.toml"
    return read_words(file.read_text(encoding="utf-8"))
