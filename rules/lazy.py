"""Functions whose module is imported at their first call: what a cold start does not need, it does not pay for.

A module names them at its top, where readers, type checkers and the check of layers see an ordinary import::

    if TYPE_CHECKING:
        from fitcheck.drawing.traced import traced
    else:
        traced = lazily("fitcheck.drawing.traced", "traced")
"""

from __future__ import annotations

import importlib
from typing import Any, Protocol

__all__ = ["lazily"]


class _Function(Protocol):
    def __call__(self, *arguments: Any, **named: Any) -> Any: ...


def lazily(module: str, name: str) -> _Function:
    """The function ``name`` of ``module``.  Its first call raises ImportError where there is no such module."""

    def call(*arguments: Any, **named: Any) -> Any:
        return getattr(importlib.import_module(module), name)(*arguments, **named)

    call.__name__ = call.__qualname__ = name
    return call
