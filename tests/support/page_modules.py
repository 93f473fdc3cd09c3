"""Modules of the page run in node: the very code that a telephone runs, for what needs no page."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

import pytest

from api.page.bundle import bundle
from api.responses.rulebook import rulebook_document
from rules import shipped_rulebook
from tests.support.paths import ROOT

__all__ = ["run_in_node"]

_STATIC: Final = ROOT / "api" / "page" / "static"
_SCRIPT: Final = "js/run.js"


def _figures() -> str:
    document = rulebook_document(shipped_rulebook())
    return json.dumps([each.model_dump(mode="json") for each in document.parameters])


def _telephone(kept: Mapping[str, Any]) -> str:
    """The store of a browser with what is kept in it; nothing where nothing is."""
    if not kept:
        return ""
    texts = {f"fitcheck.{name}": json.dumps(value) for name, value in kept.items()}
    return (
        f"const onTelephone = new Map(Object.entries({json.dumps(texts)}));\n"
        "globalThis.window = { localStorage: { length: onTelephone.size,"
        " getItem: (name) => onTelephone.get(name) ?? null,"
        " setItem: (name, text) => void onTelephone.set(name, text) } };\n"
        "globalThis.addEventListener = () => {};\n"
    )


def run_in_node(
    folder: Path, imports: Iterable[str], body: str, given: Any, *, kept: Mapping[str, Any] | None = None
) -> Any:
    """What ``body`` returns, a function's body with ``given``, in node; ``imports`` are lines as a module has them.

    Paths of imports are those of a module in the folder of scripts; figures are those of the shipped rulebook.
    ``kept``: what the page finds on the telephone as it begins, by name, as JSON.
    """
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed")
    modules = {
        str(path.relative_to(_STATIC)): path.read_text(encoding="utf-8") for path in (_STATIC / "js").rglob("*.js")
    }
    texts = {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in (_STATIC / "messages").glob("*.json")}
    modules["js/texts.js"] = f"export const MESSAGES = {json.dumps(texts)};\n"
    modules[_SCRIPT] = "\n".join(
        [
            *imports,
            'import { takeFigures } from "./figures.js";',
            'const fs = require("node:fs");',
            f"takeFigures({_figures()});",
            f"function run(given) {{ {body} }}",
            'const given = JSON.parse(fs.readFileSync(process.argv[2], "utf8"));',
            "fs.writeFileSync(process.argv[3], JSON.stringify(run(given)));",
        ]
    )
    script, asked, answered = (folder / name for name in ("run.cjs", "asked.json", "answered.json"))
    script.write_text(_telephone(kept or {}) + bundle(modules, _SCRIPT), encoding="utf-8")
    asked.write_text(json.dumps(given), encoding="utf-8")
    ran = subprocess.run([node, script, asked, answered], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    return json.loads(answered.read_text(encoding="utf-8"))
