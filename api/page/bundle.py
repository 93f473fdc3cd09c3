"""The modules of the page as one script, so that a telephone asks once: each becomes a function's scope.

Documentation is left out, and nothing is rewritten but what stands at the start of a line: ``import {…} from "…";`` and
``export``. A module of the
page keeps to these forms: named imports, exported functions, classes and constants, no circle.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from typing import Final

__all__ = ["NotBundled", "bundle"]

_IMPORT: Final = re.compile(r'^import \{([^}]*)\} from "(\.[^"]+)";$', re.MULTILINE)
_EXPORT: Final = re.compile(r"^export ((?:async )?function\*?|class|const) ([A-Za-z_$][\w$]*)", re.MULTILINE)
_COMMENT: Final = re.compile(r"^ */\*\*.*?\*/\n", re.MULTILINE | re.DOTALL)
_LEFT: Final = re.compile(r"^(?:import|export)\b.*$|\bimport\.meta\b|\bimport\(", re.MULTILINE)


class NotBundled(ValueError):
    """A module has an import or an export of another form, or imports itself through others."""


def bundle(modules: Mapping[str, str], first: str) -> str:
    """One script that runs as the module ``first`` does, of the texts of all ``modules`` by their paths."""
    order: dict[str, None] = {}
    _visit(first, modules, order, ())
    names = {path: f"module{number}" for number, path in enumerate(order)}
    parts = [f"const {names[path]} = (() => {{\n{_scope(path, modules[path], names)}}})();\n" for path in order]
    return '"use strict";\n' + "".join(parts)


def _visit(path: str, modules: Mapping[str, str], order: dict[str, None], above: tuple[str, ...]) -> None:
    if path in order:
        return
    if path in above:
        raise NotBundled(f"{path} imports itself: {' -> '.join((*above, path))}")
    if path not in modules:
        raise NotBundled(f"{above[-1] if above else 'the page'} imports {path}, which is not there")
    for _, target in _IMPORT.findall(modules[path]):
        _visit(_resolved(path, target), modules, order, (*above, path))
    order[path] = None


def _resolved(path: str, target: str) -> str:
    return posixpath.normpath(posixpath.join(posixpath.dirname(path), target))


def _scope(path: str, text: str, names: Mapping[str, str]) -> str:
    def imported(found: re.Match[str]) -> str:
        names_in = found[1].replace(" as ", ": ")
        return f"const {{{names_in}}} = {names[_resolved(path, found[2])]};"

    text = _COMMENT.sub("", text)
    exported = [name for _, name in _EXPORT.findall(text)]
    body = _EXPORT.sub(r"\1 \2", _IMPORT.sub(imported, text))
    if left := _LEFT.search(body):
        raise NotBundled(f"{path} has what a bundle does not take: {left[0]}")
    return f"{body}return {{ {', '.join(exported)} }};\n"
