"""rules.lazy: each function imported at its first call is the one that readers and type checkers see."""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from rules.lazy import lazily


def _named(root: Path) -> Iterator[tuple[str, str, str, set[tuple[str, str]]]]:
    """File, bound name, "module:function" and the imports under TYPE_CHECKING, of each call of ``lazily``."""
    for package in ("api", "fitcheck", "rules"):
        for file in sorted((root / package).rglob("*.py")):
            for block in ast.parse(file.read_text(encoding="utf-8")).body:
                if not isinstance(block, ast.If) or ast.unparse(block.test) != "TYPE_CHECKING":
                    continue
                seen = {
                    (each.module or "", alias.name)
                    for each in block.body
                    if isinstance(each, ast.ImportFrom)
                    for alias in each.names
                }
                for each in block.orelse:
                    assert isinstance(each, ast.Assign)
                    module, name = (ast.literal_eval(part) for part in each.value.args)  # type: ignore[attr-defined]
                    yield str(file.relative_to(root)), ast.unparse(each.targets[0]), f"{module}:{name}", seen


def test_what_runs_is_what_the_type_checker_sees(root: Path) -> None:
    listed = list(_named(root))
    assert len(listed) > 10
    for file, bound, function, seen in listed:
        module, name = function.split(":")
        assert bound == name, file
        assert (module, name) in seen, file
        assert callable(getattr(importlib.import_module(module), name)), file


def test_the_module_is_imported_at_the_first_call() -> None:
    program = (
        "import sys\n"
        "from rules.lazy import lazily\n"
        "quoted = lazily('shlex', 'quote')\n"
        "assert 'shlex' not in sys.modules\n"
        "assert quoted('a b') == \"'a b'\"\n"
        "assert 'shlex' in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True, cwd=Path(__file__).parents[2])


def test_a_module_that_is_not_there_fails_at_the_call() -> None:
    with pytest.raises(ModuleNotFoundError):
        lazily("no_such_module", "anything")()
