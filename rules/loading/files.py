"""A book's TOML files: their text, their digest and their tables."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from rules.errors import RulebookError
from rules.lazy import lazily
from rules.toml import read_toml

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

    from rules.loading.messages import not_toml
else:
    not_toml = lazily("rules.loading.messages", "not_toml")

__all__ = ["Table", "digest_of", "parsed", "read_texts", "tables_of"]

Table = dict[str, Any]
_MARK: Final = "\ufeff"


def read_texts(folder: Traversable) -> dict[str, str]:
    """The text of each TOML file by its name, in order.  Raises RulebookError for what cannot be read."""
    if not folder.is_dir():
        raise RulebookError(folder.name, "(folder)", "this is not a folder", "Name a folder with the book's TOML files")
    texts: dict[str, str] = {}
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if not entry.name.endswith(".toml"):
            continue
        try:
            texts[entry.name] = entry.read_text(encoding="utf-8")
        except UnicodeDecodeError as error:
            raise RulebookError(
                entry.name, f"byte {error.start}", "not UTF-8 text", "Save the file as UTF-8"
            ) from error
        except OSError as error:
            raise RulebookError(entry.name, "(file)", "this file cannot be read", "Check its permissions") from error
    return texts


def digest_of(texts: Mapping[str, str]) -> str:
    """SHA-256 of names and texts, as ``sha256:<hex>``."""
    digest = hashlib.sha256()
    for name, text in texts.items():
        digest.update(f"{name}\n{len(text.encode())}\n{text}".encode())
    return f"sha256:{digest.hexdigest()}"


def parsed(texts: Mapping[str, str]) -> tuple[dict[str, Table], list[RulebookError]]:
    """The tables of each file, and the fault of each that is not TOML (a duplicate key is one)."""
    tables: dict[str, Table] = {}
    faults: list[RulebookError] = []
    for name, text in texts.items():
        try:
            tables[name] = _parse(name, text)
        except RulebookError as error:
            faults.append(error)
    return tables, faults


def tables_of(texts: Mapping[str, str]) -> dict[str, Table]:
    """The tables of each file.  Raises RulebookError for those that are not TOML."""
    tables, faults = parsed(texts)
    if faults:
        faults[0].others = tuple(faults[1:])
        raise faults[0]
    return tables


def _parse(name: str, text: str) -> Table:
    if text.startswith(_MARK):
        raise RulebookError(
            name, "line 1", "the file starts with a byte-order mark", "Save it as UTF-8 without the mark"
        )
    try:
        return read_toml(text)
    except ValueError as error:
        raise not_toml(name, error) from error
