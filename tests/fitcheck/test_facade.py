"""``from fitcheck import …``: every name is there, is documented, and nothing is loaded before it is asked for."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

import fitcheck
import rules
from tests.support.paths import ROOT


def documented() -> set[str]:
    """The names in the first column of the table in docs/python.md."""
    table = re.findall(r"^\| (`.+?) \|", (ROOT / "docs" / "python.md").read_text(encoding="utf-8"), re.MULTILINE)
    return {name for cell in table for name in re.findall(r"`(\w+)`", cell)}


def test_what_is_exported_is_what_is_documented() -> None:
    assert documented() == set(fitcheck.__all__)
    assert sorted(fitcheck.__all__) == fitcheck.__all__


@pytest.mark.parametrize("package", [fitcheck, rules], ids=["fitcheck", "rules"])
def test_every_exported_name_is_there(package: object) -> None:
    for name in package.__all__:  # type: ignore[attr-defined]
        assert getattr(package, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'colour'"):
        _ = package.colour  # type: ignore[attr-defined]


def test_the_example_runs(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    text = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    code = re.search(r"```python\n(.+?)```", text, re.DOTALL)
    assert code is not None
    monkeypatch.chdir(ROOT / "cases_demo")
    exec(code[1].replace("foot.json", "heel-uncovered.json"), {})  # noqa: S102  (our own document)
    assert capsys.readouterr().out.startswith("put_right\n")


def test_to_import_the_package_loads_none_of_it() -> None:
    script = "import sys, fitcheck; print([name for name in sys.modules if name.startswith(('fitcheck', 'rules'))])"
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['fitcheck']"
