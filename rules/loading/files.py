"""A book's TOML files: their text, their digest, and their tables, which for the shipped book are parsed beforehand.

To parse the shipped book takes ten times as long as to read the same tables from JSON, and every cold start would wait.
So ``rules/parsed_book.json`` has them.  They stand for the TOML files only while these are the very texts that were
parsed; otherwise, and where the JSON was damaged or changed by hand, the TOML is parsed.
``python -m rules.loading.parse_book`` writes the file again, and a test holds it against the book.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any, Final

from rules.errors import RulebookError

__all__ = ["PARSED", "Table", "digest_of", "parsed_text", "read_texts", "tables_of"]

Table = dict[str, Any]
PARSED: Final = "parsed_book.json"
"""The file, in this package, of the tables that were parsed beforehand."""

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


def tables_of(texts: Mapping[str, str], parsed: Traversable | None = None) -> dict[str, Table]:
    """The tables of each file; ``parsed`` is where they may lie parsed beforehand, by default the shipped book's.

    Raises RulebookError for the first that is not TOML (a duplicate key is one).
    """
    beforehand = _parsed_beforehand(texts, parsed or files("rules") / PARSED)
    return beforehand or {name: _parse(name, text) for name, text in texts.items()}


def parsed_text(texts: Mapping[str, str]) -> str:
    """What :data:`PARSED` holds for a book of these files: the digests of the files and of the tables, then the tables.

    Raises TypeError or ValueError for a value that JSON does not have, such as a date or NaN.
    """
    tables = {name: _parse(name, text) for name, text in texts.items()}
    body = json.dumps(tables, ensure_ascii=False, allow_nan=False, indent=0)
    return f"{digest_of(texts)} {digest_of({PARSED: body})}\n{body}"


def _parsed_beforehand(texts: Mapping[str, str], parsed: Traversable) -> dict[str, Table] | None:
    """The tables of just these texts where they were parsed beforehand and the file is unchanged since."""
    try:
        head, _, body = parsed.read_text(encoding="utf-8").partition("\n")
    except (OSError, UnicodeDecodeError):
        return None
    if head != f"{digest_of(texts)} {digest_of({PARSED: body})}":
        return None
    tables: dict[str, Table] = json.loads(body)
    return tables


def _parse(name: str, text: str) -> Table:
    # Only for a book that was not parsed beforehand: a cold start is quick.
    import tomllib  # noqa: PLC0415

    if text.startswith(_MARK):
        raise RulebookError(
            name, "line 1", "the file starts with a byte-order mark", "Save it as UTF-8 without the mark"
        )
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        from rules.loading.messages import not_toml  # noqa: PLC0415

        raise not_toml(name, error) from error
