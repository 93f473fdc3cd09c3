"""``fitcheck assess FILE --drawing OUT.svg``."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from fitcheck.cli import main
from tests.support.drawings import tag_of, tree_of
from tests.support.paths import ROOT

CASES = ROOT / "cases_demo"
Captured = pytest.CaptureFixture[str]


def case(name: str) -> str:
    return str(CASES / f"{name}.json")


def test_the_drawing_is_written_beside_the_usual_answer(tmp_path: Path, capsys: Captured) -> None:
    assert main(["assess", case("high-nail")]) == 1
    usual = capsys.readouterr().out
    out = tmp_path / "foot.svg"
    assert main(["assess", case("high-nail"), "--drawing", str(out)]) == 1
    assert capsys.readouterr().out == usual
    root = tree_of(out.read_text(encoding="utf-8"))
    assert tag_of(root) == "svg"
    assert "too high" in "".join(root.itertext())


def test_of_several_feet_none_is_drawn(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "foot.svg"
    assert main(["assess", case("high-nail"), case("flinch"), "--drawing", str(out)]) == 64
    assert "one FILE" in capsys.readouterr().err
    assert not out.exists()


def test_a_place_that_cannot_be_written_is_said_and_the_answer_stands(tmp_path: Path, capsys: Captured) -> None:
    assert main(["assess", case("high-nail"), "--drawing", str(tmp_path / "none" / "foot.svg")]) == 64
    said = capsys.readouterr()
    assert "PUT RIGHT" in said.out
    assert "cannot be written" in said.err
    assert "Traceback" not in said.err


def test_bad_input_leaves_no_drawing(tmp_path: Path, capsys: Captured) -> None:
    bad, out = tmp_path / "bad.json", tmp_path / "foot.svg"
    bad.write_bytes(b"{}")
    assert main(["assess", str(bad), "--drawing", str(out)]) == 65
    assert capsys.readouterr().err
    assert not out.exists()


def test_without_the_option_nothing_of_the_drawing_is_loaded() -> None:
    code = (
        "import sys; from fitcheck.cli import main\n"
        f"main(['assess', {case('flinch')!r}])\n"
        "sys.exit(any(name.startswith('fitcheck.drawing') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode == 0


def test_a_sketch_is_drawn_without_the_libraries_of_numbers_and_geometry(tmp_path: Path) -> None:
    code = (
        "import sys; from fitcheck.cli import main\n"
        f"main(['assess', {case('flinch')!r}, '--drawing', {str(tmp_path / 'foot.svg')!r}])\n"
        "sys.exit(bool({'numpy', 'shapely'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode == 0
