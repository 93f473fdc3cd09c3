"""What is said of a value of the wrong type, in a fitting and in a rulebook."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

__all__ = ["WRONG_TYPE"]

WRONG_TYPE: Final[Mapping[str, tuple[str, str]]] = {
    "bool_type": ("is neither true nor false", "Write true or false, without quotation marks"),
    "float_type": ("is not a number", "Write a plain number, without quotation marks"),
    "int_type": ("is not a whole number", "Write it without a decimal point or quotation marks"),
    "list_type": ("stands where a list belongs", "Write a list in square brackets"),
    "string_type": ("is not text", "Write it in quotation marks"),
}
"""By pydantic's kind of fault: what the value is or does, and what to write."""
