"""What differs between two rulebooks, record by record and key by key."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from pydantic import BaseModel

from rules.loading.marking import marking_of
from rules.rulebook import Rulebook

__all__ = ["WHY_OFF", "Change", "Difference", "How", "KeyChange", "difference"]

How = Literal["added", "removed", "switched_off", "switched_on", "changed"]


@dataclass(frozen=True, slots=True)
class KeyChange:
    """One key of a record before and after, as JSON values; None where it is not given."""

    key: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True)
class Change:
    """One record that differs: the part of the book it stands in, its name there, and every key that differs."""

    part: str
    name: str
    how: How
    keys: tuple[KeyChange, ...]

    @property
    def changed(self) -> Mapping[str, KeyChange]:
        """The keys by name."""
        return {key.key: key for key in self.keys}


@dataclass(frozen=True, slots=True)
class Difference:
    """Every change from ``before`` to ``after``, in the order in which a rulebook is read."""

    before: Rulebook
    after: Rulebook
    changes: tuple[Change, ...]


_PARTED: Final = frozenset({"action"})
"""Keys of which each part is told by itself."""

WHY_OFF: Final = "switched off"
"""The key that gives the reason why a rule is off."""


def difference(before: Rulebook, after: Rulebook) -> Difference:
    """What changes from ``before`` to ``after``; comments, the order of records and the digest do not count."""
    changes: list[Change] = []
    new_parts = _parts(after, before)
    for part, old in _parts(before, after).items():
        new = new_parts[part]
        for name in (*old, *(name for name in new if name not in old)):
            keys = tuple(_keys(old.get(name, {}), new.get(name, {})))
            if keys:
                changes.append(Change(part, name, _how(name, name in old, name in new, before, after), keys))
    return Difference(before, after, tuple(changes))


def _how(name: str, old: bool, new: bool, before: Rulebook, after: Rulebook) -> How:  # noqa: FBT001
    if (name in before.off) != (name in after.off):
        return "switched_off" if name in after.off else "switched_on"
    if old == new:
        return "changed"
    return "added" if new else "removed"


def _parts(book: Rulebook, other: Rulebook) -> dict[str, dict[str, dict[str, Any]]]:
    """Every record of the book as plain values, by part and name; of a rule that either switches off, the reason."""
    required: dict[str, Any] = {stage: list(criteria) for stage, criteria in book.required.items() if criteria}
    required["finished_when_hot_fitted"] = list(book.required_when_hot_fitted)
    whole: dict[str, Mapping[str, BaseModel]] = {
        "criteria": book.criteria,
        "quantities": book.quantities,
        "rules": book.rules,
        "joined": book.joined,
        "levels": book.levels,
        "eye_words": {f"{name}.{word}": is_ for name, words in book.eye_words.items() for word, is_ in words.items()},
        "methods": book.methods,
        "instruments": book.instruments,
        "parameters": book.parameters,
        "scheme": {"scheme": marking_of(book).scheme},
        "marks": marking_of(book).marks,
        "deductions": marking_of(book).deductions,
        "bands": marking_of(book).bands,
        "progress": marking_of(book).progress,
        "says": marking_of(book).says,
        "cautions": book.cautions,
        "standing": book.standing,
        "steps": book.steps,
        "remarks": book.remarks,
        "places": book.places,
        "sources": book.sources,
    }
    parts = {part: {name: _plain(record) for name, record in records.items()} for part, records in whole.items()}
    for rule_id in (*book.off, *other.off):
        layer = "joined" if rule_id in {*book.joined, *other.joined} else "rules"
        parts[layer][rule_id] = {WHY_OFF: book.off[rule_id]} if rule_id in book.off else {}
    identity = {"id": book.id, "title": book.title, "version": book.version, "criteria": list(book.criteria)}
    policy: dict[str, dict[str, Any]] = {
        "judges": _plain(book.judges),
        "decisions": {str(stage): step for stage, step in book.decisions.items()},
    }
    return {"book": {"book": identity}, "policy": policy, "required": {"required": required}, **parts}


def _plain(record: BaseModel) -> dict[str, Any]:
    """The keys of a record that are given, by their names in the files; the parts of some by themselves."""
    flat: dict[str, Any] = {}
    for key, value in record.model_dump(mode="json", by_alias=True, exclude_none=True, exclude_defaults=True).items():
        if key in _PARTED:
            flat |= {f"{key}.{part}": text for part, text in value.items()}
        else:
            flat[key] = value
    return flat


def _keys(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[KeyChange]:
    for key in (*old, *(key for key in new if key not in old)):
        if old.get(key) != new.get(key):
            yield KeyChange(key, old.get(key), new.get(key))
