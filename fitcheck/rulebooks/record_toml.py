"""A record of a rulebook as TOML that can be laid over it: the same table in the file of the same name."""

from __future__ import annotations

from typing import Any, Final

import rtoml
from pydantic import BaseModel

from rules import Rulebook

_STAYS: Final = frozenset({"own_way"})
"""Keys that no book that inherits may change, and that are read otherwise than they are written."""

__all__ = ["record_toml"]


def record_toml(name: str, book: Rulebook) -> str:
    """The single or joined rule, or the quantity, of that name as TOML; KeyError where there is none.

    Laid over the book as it stands it changes nothing.
    """
    for section, records in (("rules", book.rules), ("joined", book.joined), ("quantities", book.quantities)):
        if name in records:
            record = records[name]
            written = record.model_dump(by_alias=True, exclude_unset=True, exclude_none=True)
            table = {key: _lists(written[key]) for key in _order(record) if key in written.keys() - _STAYS}
            head = f"# In {book.files[name]} of your own book; leave out what stays as it is."
            return f"{head}\n{rtoml.dumps({section: {name: table}}, pretty=True)}"
    raise KeyError(name)


def _order(record: BaseModel) -> list[str]:
    """The keys of a record, its own before those that it shares with others."""
    order: dict[str, None] = {}
    for model in type(record).__mro__:
        for name in getattr(model, "__annotations__", ()):
            if name in type(record).model_fields:
                order[type(record).model_fields[name].alias or name] = None
    return list(order)


def _lists(value: Any) -> Any:
    if isinstance(value, tuple | list):
        return [_lists(part) for part in value]
    return {key: _lists(part) for key, part in value.items()} if isinstance(value, dict) else value
