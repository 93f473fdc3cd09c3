"""The texts of a rulebook: every sentence and name that a reader is shown, by its path, and a book with others.

A path is what the TOML files would call the text: kind of record, id and key, such as ``rules``, ``heel-short``,
``action``, ``nailed``.  A criterion's is ``criteria``, its id and the key, since each file has one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final, TypeVar

from pydantic import BaseModel

from rules.loading.marking import marking_of
from rules.rulebook import Rulebook

__all__ = ["KEYS", "OPTIONAL", "Path", "file_of", "reworded", "texts_of"]

Path = tuple[str, ...]
"""Kind of record, id and key of a text."""

_R = TypeVar("_R", bound=BaseModel)

KEYS: Final[Mapping[str, tuple[str, ...]]] = {
    "book": ("title",),
    "levels": ("meaning", "basis"),
    "places": ("title",),
    "steps": ("text",),
    "sources": ("title", "authors", "year", "note", "licence"),
    "cautions": ("text",),
    "standing": ("text",),
    "methods": ("title", "basis"),
    "instruments": ("title", "basis"),
    "eye_words": ("basis",),
    "parameters": ("title", "basis"),
    "remarks": ("text",),
    "criteria": ("title", "looks_at"),
    "quantities": ("title", "how", "range_basis"),
    "rules": ("finding", "action", "basis", "gathered"),
    "joined": ("finding", "action", "basis"),
    "scheme": ("title", "how", "basis"),
    "marks": ("basis",),
    "deductions": ("basis",),
    "bands": ("title", "meaning", "basis"),
    "progress": ("title", "basis"),
    "says": ("text",),
    "off": ("reason",),
}
"""Which keys of each kind of record are texts."""

OPTIONAL: Final = frozenset({("sources", "title"), ("sources", "authors"), ("sources", "year")})
"""What may rightly stay as it is in another language: what a source prints of itself."""

_SINGLE: Final = ("book", "scheme")
_MARKING: Final = ("scheme", "marks", "deductions", "bands", "progress", "says")
_FILES: Final = {
    **dict.fromkeys(("book", "levels", "places", "steps", "off"), "book.toml"),
    **dict.fromkeys(("cautions", "standing"), "cautions.toml"),
    **dict.fromkeys(("methods", "instruments"), "readings.toml"),
    **dict.fromkeys(("parameters", "remarks"), "parameters.toml"),
    **dict.fromkeys(_MARKING, "marking.toml"),
    "sources": "sources.toml",
    "eye_words": "eye_words.toml",
    "joined": "joined.toml",
}


def texts_of(book: Rulebook) -> Mapping[Path, str]:
    """Every text of ``book`` by its path.  Raises RulebookError where its marking scheme is faulty."""
    marking_of(book)
    return dict(_texts(book))


def file_of(path: Path, book: Rulebook) -> str:
    """The file of ``book`` in which a text stands."""
    kind = path[0]
    if kind == "criteria":
        return f"{path[1]}.toml"
    return _FILES.get(kind) or book.files.get(path[1], "book.toml")


def _texts(book: Rulebook) -> Iterator[tuple[Path, str]]:
    yield ("book", "title"), book.title
    for kind, records in _records(book).items():
        for name, record in records.items():
            yield from _of_record((kind, *name.split("/")), {key: getattr(record, key) for key in KEYS[kind]})
    for kind in _MARKING:
        for path, table in _marking_tables(book.marking_table, kind):
            yield from _of_record(path, {key: table.get(key) for key in KEYS[kind]})
    for rule_id, reason in book.off.items():
        yield ("off", rule_id, "reason"), reason


def _of_record(path: Path, texts: Mapping[str, Any]) -> Iterator[tuple[Path, str]]:
    for key, text in texts.items():
        if isinstance(text, Mapping):
            yield from _of_record((*path, key), text)
        elif text is not None:
            yield (*path, key), text


def _records(book: Rulebook) -> dict[str, Mapping[str, BaseModel]]:
    """The records of each kind by id; those of an eye word by quantity and word."""
    kinds: dict[str, Mapping[str, BaseModel]] = {
        kind: getattr(book, kind) for kind in KEYS if kind not in {*_SINGLE, *_MARKING, "off", "eye_words"}
    }
    kinds["eye_words"] = {
        f"{quantity}/{word}": record for quantity, words in book.eye_words.items() for word, record in words.items()
    }
    return kinds


def _marking_tables(table: Mapping[str, Any], kind: str) -> Iterator[tuple[Path, dict[str, Any]]]:
    if kind in _SINGLE:
        yield (kind,), table[kind]
    else:
        yield from (((kind, name), record) for name, record in table[kind].items())


def reworded(book: Rulebook, texts: Mapping[Path, str], language: str) -> Rulebook:
    """``book`` with these texts in place of its own, in ``language``; all else, and the digest, as it is."""
    title = texts.get(("book", "title"), book.title)
    changed: dict[str, Any] = {
        kind: MappingProxyType({name: _reworded(record, (kind, name), texts) for name, record in records.items()})
        for kind, records in _records(book).items()
        if kind != "eye_words"
    }
    changed["eye_words"] = MappingProxyType(
        {
            quantity: MappingProxyType(
                {word: _reworded(record, ("eye_words", quantity, word), texts) for word, record in words.items()}
            )
            for quantity, words in book.eye_words.items()
        }
    )
    off = {rule_id: texts.get(("off", rule_id, "reason"), reason) for rule_id, reason in book.off.items()}
    return replace(
        book,
        title=title,
        off=MappingProxyType(off),
        marking_table=_marking(book.marking_table, texts),
        language=language,
        original=book,
        **changed,
    )


def _reworded(record: _R, path: Path, texts: Mapping[Path, str]) -> _R:
    update: dict[str, Any] = {}
    for key in KEYS[path[0]]:
        own = getattr(record, key)
        if isinstance(own, Mapping):
            parts = {part: texts.get((*path, key, part), text) for part, text in own.items()}
            if parts != own:
                update[key] = parts
        elif (*path, key) in texts:
            update[key] = texts[*path, key]
    return record.model_copy(update=update) if update else record


def _marking(table: Mapping[str, Any], texts: Mapping[Path, str]) -> dict[str, Any]:
    changed = dict(table)
    for kind in _MARKING:
        tables = {
            path: {**record, **{key: texts[*path, key] for key in KEYS[kind] if (*path, key) in texts}}
            for path, record in _marking_tables(table, kind)
        }
        changed[kind] = tables[kind,] if kind in _SINGLE else {path[1]: record for path, record in tables.items()}
    return changed
