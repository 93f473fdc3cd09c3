"""Texts of the book and of the tool as they stand in their files, read by nothing but Python's TOML parser."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from tests.support.paths import ROOT

__all__ = ["BOOK", "GERMAN", "english_pieces", "leaves", "placeholders", "strings", "texts_in_book"]

BOOK: Final = ROOT / "rules" / "book"
GERMAN: Final = ROOT / "rules" / "languages" / "de"

_TEXT_KEYS: Final = frozenset(
    {"title", "text", "meaning", "basis", "how", "looks_at", "range_basis", "finding", "note", "licence"}
)
_NAME: Final = re.compile(r"\{([a-z_]+)\}")
_SHORTEST: Final = 12
"""Letters that a piece of a sentence has at least, to be told from a name or a number."""


def leaves(table: Mapping[str, Any], path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every value of a TOML document by its keys."""
    for key, value in table.items():
        if isinstance(value, dict):
            yield from leaves(value, (*path, key))
        else:
            yield (*path, key), value


def placeholders(text: str) -> set[str]:
    """The names in braces."""
    return set(_NAME.findall(text))


def texts_in_book() -> dict[tuple[str, ...], str]:
    """The texts of the shipped book by kind, id and key, out of its files; titles of published sources left out."""
    found: dict[tuple[str, ...], str] = {}
    for file in BOOK.glob("*.toml"):
        for path, value in leaves(tomllib.loads(file.read_text(encoding="utf-8"))):
            in_action = len(path) > 1 and path[-2] == "action"
            if not isinstance(value, str) or not (in_action or path[-1] in _TEXT_KEYS):
                continue
            if path[0] == "sources" and path[-1] == "title":
                continue
            found[_path(file, path)] = value
    return found


def _path(file: Path, path: tuple[str, ...]) -> tuple[str, ...]:
    if path[0] == "criterion":
        return ("criteria", file.stem, *path[1:])
    return ("eye_words", *path) if file.name == "eye_words.toml" else path


def strings(document: Any) -> Iterator[str]:
    """Every text in a JSON document."""
    if isinstance(document, str):
        yield document
    elif isinstance(document, dict | list):
        for part in document.values() if isinstance(document, dict) else document:
            yield from strings(part)


def english_pieces() -> set[str]:
    """What stands between the placeholders of every English text of the book, the tool and the page."""
    texts = [*texts_in_book().values()]
    for file in sorted((ROOT / "fitcheck" / "text" / "en").glob("*.toml")):
        texts += (str(text) for _, text in leaves(tomllib.loads(file.read_text(encoding="utf-8"))))
    page = json.loads((ROOT / "api/page/static/messages/en.json").read_text(encoding="utf-8"))
    texts += page.values()
    pieces = (piece.strip(" .,;:()") for text in texts for piece in _NAME.sub("\n", text).split("\n"))
    return {piece for piece in pieces if len(piece) >= _SHORTEST and " " in piece}
