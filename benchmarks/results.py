"""Results on the terminal and in RESULTS.md, each with the machine and the versions that it was measured on."""

from __future__ import annotations

import os
import platform
import re
from importlib.metadata import version
from pathlib import Path
from typing import Final

from benchmarks.harness import ROOT, Result
from rules import shipped_rulebook

__all__ = ["FILE", "shown", "write"]

FILE: Final = ROOT / "benchmarks" / "RESULTS.md"
_HEAD: Final = """# Benchmarks

Written by `python -m benchmarks --write`; every part says what it was measured on. Medians and ratios of one part come
from one run, in which all that is compared took turns.
"""


def shown(result: Result) -> str:
    """``result`` for the terminal."""
    width = max(len(what) for what, _ in result.lines())
    lines = [f"  {what:<{width}}  {figure}" for what, figure in result.lines()]
    return "\n".join([f"{result.title} ({result.name})", *lines])


def write(results: list[Result], order: tuple[str, ...], file: Path = FILE) -> None:
    """Put ``results`` into ``file``; the parts that were not run now stay as they are."""
    parts = _parts(file.read_text(encoding="utf-8")) if file.exists() else {}
    parts |= {result.name: _part(result) for result in results}
    kept = [parts[name] for name in order if name in parts]
    file.write_text("\n".join([_HEAD, *kept]), encoding="utf-8")


def _parts(text: str) -> dict[str, str]:
    pieces = re.split(r"^<!-- (\w+) -->\n", text, flags=re.MULTILINE)[1:]
    return {name: f"<!-- {name} -->\n{part.rstrip()}\n" for name, part in zip(pieces[::2], pieces[1::2], strict=True)}


def _part(result: Result) -> str:
    rows = "\n".join(f"| {what} | {figure} |" for what, figure in result.lines())
    return (
        f"<!-- {result.name} -->\n## {result.title}\n\n{result.how}\n\n"
        f"| what | figure |\n| --- | --- |\n{rows}\n\nMeasured on {_machine()}; {_versions(result)}.\n"
    )


def _machine() -> str:
    """Processor, cores, kernel and Python."""
    described = Path("/proc/cpuinfo").read_text(encoding="utf-8")
    model = re.search(r"^model name\s*:\s*(.+)$", described, re.MULTILINE)
    return (
        f"{model[1] if model else platform.machine()}, {os.cpu_count()} cores, {platform.system()} "
        f"{platform.release()}, {platform.python_implementation()} {platform.python_version()}"
    )


def _versions(result: Result) -> str:
    book = shipped_rulebook()
    packages = ", ".join(f"{name} {version(name)}" for name in result.packages)
    return f"rulebook {book.version} ({book.digest[:14]}…){', ' if packages else ''}{packages}"
