"""Which shape the answer to a fitting has: events are named by it, and each shape has a reader of its own."""

from __future__ import annotations

from collections.abc import Container
from typing import Final, Literal

__all__ = ["FIRST", "SECOND", "Shape", "shape_of"]

Shape = Literal[1, 2]

FIRST: Final = 1
"""As the first contract has it, with which release 1.0.0 began; by its rulebook answers still have it."""
SECOND: Final = 2
"""With what the second contract adds: by a rulebook that says which step follows, or after another assessment."""

_SECOND_ALONE: Final = ("unassessed", "carried")
"""An answer of the second shape has one of these keys at least, one of the first none."""


def shape_of(answer: Container[str]) -> Shape:
    """The shape of an answer, by the keys that it has.

    >>> shape_of({"decision": "release", "not_assessed": []}), shape_of({"decision": "go_on", "unassessed": []})
    (1, 2)
    """
    return SECOND if any(key in answer for key in _SECOND_ALONE) else FIRST
