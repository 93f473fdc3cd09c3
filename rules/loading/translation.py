"""A rulebook's texts in other languages: strict loading, what is not translated, and the book with its texts in one.

Each language is a folder of TOML files, such as ``languages/de`` beside the book: ``[language]`` in ``language.toml``,
and in any of the files the texts, each by kind of record, id and key as :mod:`rules.loading.texts` has them.  What a
language leaves out stays as the book has it.

The texts of a language judge nothing.  They are no part of what the digest covers, so the book in another language
has the digest, and the evaluator, of the book itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.resources.abc import Traversable
from string import Formatter
from typing import Any, Final, NamedTuple

from rules.errors import RulebookError
from rules.loading.files import Table, read_texts, tables_of
from rules.loading.loader import shipped_rulebook
from rules.loading.record_checks import check_text, fail
from rules.loading.texts import KEYS, OPTIONAL, Path, file_of, reworded, texts_of
from rules.rulebook import Rulebook

__all__ = ["BASE", "Gap", "LanguageTexts", "gaps", "language_texts", "languages_of", "localized", "own_languages"]

BASE: Final = "en"
"""The language that the shipped book is written in."""

_DERIVED: Final = "in language"
_HEAD: Final = "language.toml"
_HEAD_KEYS: Final = {"title": str, "complete": bool}
_NAME: Final = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]+)*")
_LONGEST: Final = 600
_CRITERION: Final = "criterion"


class Gap(NamedTuple):
    """A text that a language does not have: the book's file that it stands in, its dotted key, and the text."""

    file: str
    key: str
    text: str


@dataclass(frozen=True)
class LanguageTexts:
    """The texts of one language; ``complete`` where it claims to have them all."""

    language: str
    title: str
    complete: bool
    texts: Mapping[Path, str]


def languages_of(book: Rulebook) -> tuple[str, ...]:
    """The languages in which the book, or the shipped one, has texts, that of the shipped book first."""
    folders = [folder for folder in (_shipped_folder(), book.languages) if folder is not None and folder.is_dir()]
    names = {entry.name for folder in folders for entry in folder.iterdir() if _NAME.fullmatch(entry.name)}
    return (BASE, *sorted(names - {BASE}))


def localized(book: Rulebook, language: str) -> Rulebook:
    """The same book with its texts in ``language``, and in its own where they are not translated.

    Rules, limits, version and digest are the same, so the decisions are, and so is the evaluator.  Each language is
    put together once and kept with the book.

    A text that is just the shipped book's is taken in that book's translation, then the book's own translations count.
    Raises RulebookError for a language that there is not, and what :func:`language_texts` raises.
    """
    if language == book.language:
        return book
    own = book.original or book
    found: Rulebook | None = own.derived.get((_DERIVED, language))
    if found is None:
        found = own.derived[_DERIVED, language] = _localized(own, language)
    return found


def _localized(own: Rulebook, language: str) -> Rulebook:
    if language not in languages_of(own):
        known = ", ".join(languages_of(own))
        raise RulebookError("languages", language, "there are no texts in this language", f"Known: {known}")
    if language == BASE and not _has(own.languages, BASE):
        return own
    texts = {**_from_shipped(own, language)}
    if own.languages is not None and _has(own.languages, language):
        texts |= language_texts(own, own.languages, language).texts
    return reworded(own, texts, language)


def own_languages(book: Rulebook) -> tuple[LanguageTexts, ...]:
    """The languages that ``book`` itself brings, in order.  Raises what :func:`language_texts` raises."""
    folder = book.languages
    if folder is None or not folder.is_dir():
        return ()
    names = sorted(entry.name for entry in folder.iterdir() if entry.is_dir())
    for name in names:
        if not _NAME.fullmatch(name):
            fail(f"languages/{name}", "(folder)", "this is no language", "Name the folder as de or pt-BR is")
    return tuple(language_texts(book, folder, name) for name in names)


def gaps(book: Rulebook, language: str) -> tuple[Gap, ...]:
    """The texts of ``book`` that are not translated, in the order in which a rulebook is read.

    What a published source prints of itself may stay as it is.
    """
    have = set(_from_shipped(book, language))
    if book.languages is not None and _has(book.languages, language):
        have |= set(language_texts(book, book.languages, language).texts)
    return tuple(
        Gap(file_of(path, book), ".".join(path), text)
        for path, text in texts_of(book).items()
        if path not in have and (path[0], path[-1]) not in OPTIONAL
    )


def language_texts(book: Rulebook, folder: Traversable, language: str) -> LanguageTexts:
    """The texts in ``folder / language`` for ``book``, strictly.

    Raises RulebookError, naming file and key: no ``language.toml``, an unknown or missing key there, TOML that does not
    parse, a text for a record or key that the book does not have, a text given twice, one that is no text or empty, a
    placeholder too many or one that is missing.
    """
    place = f"languages/{language}"
    try:
        tables = tables_of(read_texts(folder / language))
    except RulebookError as error:
        raise RulebookError(f"{place}/{error.file}", error.key, error.problem, error.remedy) from error
    if _HEAD not in tables:
        fail(f"{place}/{_HEAD}", "(file)", "this file is missing", f"Add {_HEAD} with [language], title and complete")
    head = _head(f"{place}/{_HEAD}", tables.pop(_HEAD))
    known = texts_of(book)
    texts: dict[Path, str] = {}
    for name, table in tables.items():
        file = f"{place}/{name}"
        for path, text in _leaves(file, (), table):
            if path in texts:
                fail(file, ".".join(path), "this text stands in another file too", "Give each text once")
            _check(file, path, text, known)
            texts[path] = text
    return LanguageTexts(language, head["title"], head["complete"], texts)


def _head(file: str, table: Table) -> Table:
    for key in table:
        if key != "language":
            fail(file, key, "unknown key", "Allowed here: language")
    head = table.get("language")
    if not isinstance(head, dict):
        fail(file, "language", "this table is missing", "Add [language] with title and complete")
    for key in head:
        if key not in _HEAD_KEYS:
            fail(file, f"language.{key}", "unknown key", f"Allowed here: {', '.join(_HEAD_KEYS)}")
    for key, kind in _HEAD_KEYS.items():
        if not isinstance(head.get(key), kind):
            what = "true or false" if kind is bool else "a text"
            fail(file, f"language.{key}", f"this is not {what}", f"Write {key} as {what}")
    return head


def _leaves(file: str, path: Path, table: Mapping[str, Any]) -> Iterator[tuple[Path, str]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(file, (*path, key), value)
        elif isinstance(value, str) and 0 < len(value) <= _LONGEST:
            yield (*path, key), value
        else:
            fail(file, ".".join((*path, key)), f"not a text of 1 to {_LONGEST} characters", "Write a text")


def _check(file: str, path: Path, text: str, known: Mapping[Path, str]) -> None:
    """The book has such a text, and both have the same placeholders."""
    key = ".".join(path)
    if path not in known:
        _unknown(file, path, known)
    expected = _placeholders(known[path])
    check_text(file, key, text, expected)
    for name in sorted(expected - _placeholders(text)):
        fail(file, key, f"the placeholder {name!r} is missing", f"Put {{{name}}} where the value belongs")


def _unknown(file: str, path: Path, known: Mapping[Path, str]) -> None:
    """Say which part of the path the book does not have."""
    kind = path[0]
    if kind not in KEYS:
        hint = f"Allowed here: {', '.join(KEYS)}"
        if kind == _CRITERION:
            hint = "Write [criteria.ID] with the criterion's id"
        fail(file, kind, "unknown key", hint)
    for end in range(2, len(path) + 1):
        nexts = sorted({each[end - 1] for each in known if each[: end - 1] == path[: end - 1] and len(each) >= end})
        if path[end - 1] not in nexts:
            named = f"Known: {', '.join(nexts) or 'none'}"
            fail(file, ".".join(path[:end]), "the book has no text of this name", named)
    fail(file, ".".join(path), "the book has no text of this name", f"Keys of {kind}: {', '.join(KEYS[kind])}")


def _placeholders(text: str) -> frozenset[str]:
    return frozenset(name for _, name, _, _ in Formatter().parse(text) if name is not None)


def _from_shipped(book: Rulebook, language: str) -> Mapping[Path, str]:
    """The shipped book's translations of those texts that ``book`` has from it word for word."""
    shipped = shipped_rulebook()
    if shipped is book or not _has(shipped.languages, language) or shipped.languages is None:
        return {}
    theirs, own = texts_of(shipped), texts_of(book)
    texts = language_texts(shipped, shipped.languages, language).texts
    return {path: text for path, text in texts.items() if own.get(path) == theirs[path]}


def _shipped_folder() -> Traversable | None:
    return shipped_rulebook().languages


def _has(folder: Traversable | None, language: str) -> bool:
    return folder is not None and (folder / language).is_dir()
