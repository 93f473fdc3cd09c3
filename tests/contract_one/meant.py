"""``changes.toml``: what is meant to be other than under the first contract, each with the reason."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, Final, Literal

__all__ = ["Part", "meant_changes"]

Part = Literal["answers", "openapi", "stores"]

_FILE: Final = Path(__file__).parent / "changes.toml"
_PARTS: Final = ("answers", "openapi", "stores")


def meant_changes(part: Part, text: str | None = None) -> set[str]:
    """What is meant to change of ``part``, by ``text`` in the place of the file.

    Raises ValueError for an unknown part and for an entry with other keys, without a reason, or that is there twice.
    """
    tables: dict[str, list[dict[str, Any]]] = tomllib.loads(_FILE.read_text(encoding="utf-8") if text is None else text)
    if unknown := set(tables) - set(_PARTS):
        raise ValueError(f"unknown in changes.toml: {', '.join(sorted(unknown))}")
    entries = tables.get(part, [])
    for entry in entries:
        if set(entry) != {"what", "why"} or not all(isinstance(text, str) and text.strip() for text in entry.values()):
            raise ValueError(f"an entry of {part} has what and why, each a text: {entry}")
    found = {entry["what"] for entry in entries}
    if len(found) < len(entries):
        raise ValueError(f"an entry of {part} stands there twice")
    return found
