"""The frozen answers, as one digest for each, and how answers of today differ from them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Final

__all__ = ["differences", "digest_of", "read_ledger", "write_ledger"]

_FILE: Final = Path(__file__).parent / "digests.json"
_LENGTH: Final = 16  # hexadecimal digits: enough to tell a few thousand answers apart


def digest_of(text: str) -> str:
    """The digest of one answer."""
    return hashlib.sha256(text.encode()).hexdigest()[:_LENGTH]


def read_ledger(group: str) -> dict[str, str]:
    """The frozen digests of ``group``, by key."""
    ledger: dict[str, dict[str, str]] = json.loads(_FILE.read_text(encoding="utf-8"))
    return ledger[group]


def write_ledger(group: str, digests: Mapping[str, str]) -> None:
    """Freeze the digests of ``group``; the other groups stay as they are."""
    ledger = json.loads(_FILE.read_text(encoding="utf-8")) if _FILE.exists() else {}
    ledger[group] = dict(sorted(digests.items()))
    _FILE.write_text(json.dumps(ledger, indent=0, sort_keys=True, ensure_ascii=False) + "\n", encoding="utf-8")


def differences(frozen: Mapping[str, str], found: Mapping[str, str]) -> list[str]:
    """One line for each answer that changed, went or came."""
    return [
        f"{key}: {'no longer answered' if key not in found else 'new' if key not in frozen else 'changed'}"
        for key in sorted(frozen.keys() | found.keys())
        if frozen.get(key) != found.get(key)
    ]
