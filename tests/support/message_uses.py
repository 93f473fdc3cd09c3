"""Where messages of the catalogue are asked for: in Python modules, in templates, in the scripts of the page."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

from jinja2 import Environment, nodes

from tests.support.paths import ROOT

__all__ = ["Use", "uses"]

_ANY: Final = "[A-Za-z0-9_/.%-]+"
_ID: Final = re.compile(r"[a-z_]+(?:\.[A-Za-z0-9_-]+)+")
_ASKING: Final = frozenset({"say", "counted"})
_HOLE: Final = "\0"


class Use(NamedTuple):
    """One place that asks for a message, or only names one where ``asks`` is False."""

    where: str
    pattern: str
    """A regular expression for the names, what is put in at run time being anything."""
    filled: frozenset[str] | None
    """The parts that are put in; None where that is not to be seen, or where the name is put together."""
    asks: bool = True

    def fits(self, name: str) -> bool:
        """Whether it asks for the message of that name."""
        return re.fullmatch(self.pattern, name) is not None


def uses() -> list[Use]:
    """Every use in the product."""
    found: list[Use] = []
    for package in ("api", "fitcheck", "rules"):
        for path in sorted((ROOT / package).rglob("*.py")):
            found += _in_python(path)
        for path in sorted((ROOT / package).rglob("templates/*.html")):
            found += _in_template(path)
    return found


def _in_python(path: Path) -> Iterator[Use]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        where = f"{path.relative_to(ROOT)}:{getattr(node, 'lineno', 0)}"
        if isinstance(node, ast.Call) and node.args:
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            first, last = node.args[0], node.args[-1]
            if name in _ASKING:
                filled = _filled(node, name)
                yield from (Use(where, each, None if _ANY in each else filled) for each in _patterns(first, name))
            elif name == "named" and (kind := _constant(first)):
                yield Use(where, rf"{kind}\.{_ANY}", None, asks=False)
            elif name == "joined" and (joint := _constant(last)):
                yield Use(where, rf"joint\.{joint}", None)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and _ID.fullmatch(node.value):
            yield Use(where, rf"{re.escape(node.value)}(\.none|\.one|\.other)?", None, asks=False)
        if isinstance(node, ast.JoinedStr) and (text := _joined(node)).partition(".")[1]:
            yield Use(where, text, None, asks=False)


def _constant(argument: ast.expr) -> str:
    return argument.value if isinstance(argument, ast.Constant) and isinstance(argument.value, str) else ""


def _patterns(argument: ast.expr, name: str) -> Iterator[str]:
    """What the first argument of a call may be; nothing where it is a variable."""
    more = r"\.(?:none|one|other)" if name == "counted" else ""
    match argument:
        case ast.Constant(value=str(text)):
            yield re.escape(text) + more
        case ast.JoinedStr():
            yield _joined(argument) + more
        case ast.IfExp():
            yield from _patterns(argument.body, name)
            yield from _patterns(argument.orelse, name)


def _joined(text: ast.JoinedStr) -> str:
    parts = [str(part.value) if isinstance(part, ast.Constant) else _HOLE for part in text.values]
    return re.escape("".join(parts)).replace(_HOLE, _ANY)


def _filled(call: ast.Call, name: str) -> frozenset[str] | None:
    keywords = {keyword.arg for keyword in call.keywords}
    if None in keywords:
        return None
    return frozenset(str(keyword) for keyword in keywords) | ({"count"} if name == "counted" else set())


def _in_template(path: Path) -> Iterator[Use]:
    tree = Environment(autoescape=True).parse(path.read_text(encoding="utf-8"))
    for call in tree.find_all(nodes.Call):
        if not (isinstance(call.node, nodes.Name) and call.node.name in _ASKING):
            continue
        where = f"{path.relative_to(ROOT)}:{call.lineno}"
        filled = {keyword.key for keyword in call.kwargs} | ({"count"} if call.node.name == "counted" else set())
        more = r"\.(?:none|one|other)" if call.node.name == "counted" else ""
        for pattern in _in_expression(call.args[0]):
            yield Use(where, pattern + more, None if _ANY in pattern else frozenset(filled))


def _in_expression(argument: nodes.Expr) -> Iterator[str]:
    match argument:
        case nodes.Const():
            yield re.escape(str(argument.value))
        case nodes.Concat():
            yield "".join(
                re.escape(str(part.value)) if isinstance(part, nodes.Const) else _ANY for part in argument.nodes
            )
        case nodes.CondExpr():
            yield from _in_expression(argument.expr1)
            if argument.expr2 is not None:
                yield from _in_expression(argument.expr2)
