"""Texts of the book and of the tool as they stand in their files, read by nothing but Python's TOML parser."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from tests.support.pages import Element
from tests.support.paths import ROOT

__all__ = ["BOOK", "GERMAN", "english_in", "english_pieces", "leaves", "placeholders", "strings", "texts_in_book"]

BOOK: Final = ROOT / "rules" / "book"
GERMAN: Final = ROOT / "rules" / "languages" / "de"

_TEXT_KEYS: Final = frozenset(
    {"title", "text", "meaning", "basis", "how", "looks_at", "range_basis", "finding", "gathered", "note", "licence"}
)
_NAME: Final = re.compile(r"(?<!\{)\{([a-z_]+)\}(?!\})")
_WORDS: Final = frozenset(
    {"the", "of", "and", "with", "not", "by", "is", "are", "to", "no", "from", "this", "it", "each"}
)
"""Words that hardly an English sentence does without, and that German does not have."""
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
    """What stands between the placeholders of every English text of the book and the tool, that of the page too."""
    texts = [*texts_in_book().values()]
    texts += _tool_texts("en")
    pieces = (piece.strip(" .,;:()") for text in texts for piece in _NAME.sub("\n", text).split("\n"))
    return {piece for piece in pieces if len(piece) >= _SHORTEST and " " in piece}


def english_in(page: Element) -> set[str]:
    """Labels, pieces of sentences and words of English in ``page``.

    Its style sheets and scripts, its list of sources and ids with hyphens are left aside.
    """
    labels = {text for text in _tool_texts("en") if not placeholders(text)} - set(_tool_texts("de"))
    texts = [said for text in _texts(page) if len(said := " ".join(text.split())) > 1]
    whole = "\n".join(texts)
    words = {word.lower() for text in texts for word in re.findall(r"(?<![\w-])[^\W\d_]+(?![\w-])", text)}
    return (labels & set(texts)) | {piece for piece in english_pieces() if piece in whole} | (_WORDS & words)


def _tool_texts(language: str) -> Iterator[str]:
    for file in sorted((ROOT / "fitcheck" / "text" / language).glob("*.toml")):
        yield from strings(tomllib.loads(file.read_text(encoding="utf-8")))


def _texts(element: Element) -> Iterator[str]:
    if element.tag in {"style", "script"} or (element.tag, element.attributes.get("class")) == ("ul", "small"):
        return
    for part in element.content:
        if isinstance(part, str):
            yield part
        else:
            yield from _texts(part)
    yield from (
        element.attributes[name] for name in ("aria-label", "title", "placeholder") if name in element.attributes
    )
