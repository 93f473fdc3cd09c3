"""``--follows``: a fitting from a file is judged after the files of those before it, and nothing is kept."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fitcheck.cli import main

Captured = pytest.CaptureFixture[str]
Write = Callable[[str, Any], str]
FIT = {name: {"as_before": True} for name in ("heel_fit", "toe_fit", "levelness")}


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes a fitting to a file; gives its name."""

    def to(name: str, document: Any) -> str:
        file = tmp_path / f"{name}.json"
        file.write_text(json.dumps(document), encoding="utf-8")
        return str(file)

    return to


@pytest.fixture
def hot(write: Write, changed: Callable[..., dict[str, Any]]) -> str:
    """The file of the good foot at its trial, tight at both heels."""
    return write(
        "hot",
        changed(
            stage="hot_fit",
            observations__finish=...,
            observations__soundness=...,
            observations__nails=...,
            observations__heel_fit__medial__width=-2,
            shoe__holes=[{"branch": side, "hole": 2, "to_white_line": "on_line"} for side in ("medial", "lateral")],
        ),
    )


@pytest.fixture
def second(write: Write) -> str:
    """The file of the second try: the branch opened, all else as before."""
    heel_fit = {"as_before": True, "medial": {"width": 2}}
    return write("second", {"foot": "left_fore", "stage": "hot_fit", "observations": FIT | {"heel_fit": heel_fit}})


def test_a_second_try_tells_what_became_better_in_each_language(
    hot: str, second: str, capsys: Captured, tmp_path: Path
) -> None:
    assert main(["assess", hot]) == 1
    assert main(["assess", second, "--follows", hot]) == 4
    english = " ".join(capsys.readouterr().out.split())
    assert "Better than at the try before" in english
    assert "The medial heel, width of the branch" in english
    assert "buttress and heel end: before major, now nothing found." in english
    assert "As observed before: work, hoof, shoe" in english
    main(["assess", second, "--follows", hot, "--language", "de"])
    german = " ".join(capsys.readouterr().out.split())
    assert "Besser als beim Versuch davor" in german
    assert "vorher schwer, jetzt nichts gefunden." in german
    page = tmp_path / "page.html"
    assert main(["report", second, "--follows", hot, "--output", str(page), "--language", "de"]) == 0
    assert "Besser als beim Versuch davor" in page.read_text(encoding="utf-8")


def test_a_chain_of_files_is_judged_from_the_oldest_on(
    hot: str, second: str, write: Write, good: dict[str, Any], capsys: Captured
) -> None:
    nails = [{key: value for key, value in nail.items() if key != "clinch"} for nail in good["observations"]["nails"]]
    nailed = write("nailed", {"foot": "left_fore", "stage": "nailed", "observations": FIT | {"nails": nails}})
    assert main(["assess", nailed, "--follows", hot, "--follows", second, "--json", "--explain"]) == 4
    answer = json.loads(capsys.readouterr().out)
    origins = {each["field"]: each["assessment"] for each in answer["carried"]}
    assert len(set(origins.values())) == 2
    assert origins["observations.heel_fit.medial.width"] != origins["observations.heel_fit.medial.length"]
    assert answer["explanation"]


def test_the_assessment_before_goes_by_the_id_that_the_file_names(hot: str, write: Write, capsys: Captured) -> None:
    named = write("named", {"foot": "left_fore", "stage": "hot_fit", "follows": "one", "observations": FIT})
    assert main(["assess", named, "--follows", hot, "--json"]) == 1
    assert {each["assessment"] for each in json.loads(capsys.readouterr().out)["carried"]} == {"one"}


def test_what_is_wrong_is_told_with_the_file_that_it_stands_in(
    hot: str, second: str, write: Write, capsys: Captured
) -> None:
    assert main(["assess", second]) == 65
    assert "work: This key is missing" in capsys.readouterr().err
    alone = write(
        "alone", {"foot": "left_fore", "stage": "hot_fit", "work": "riding", "follows": "x", "observations": {}}
    )
    assert main(["assess", alone]) == 65
    assert "fitcheck assess --follows FILE" in capsys.readouterr().err
    bad = write("bad", {"foot": "left_fore"})
    assert main(["assess", second, "--follows", bad]) == 65
    assert f"{bad}: stage" in capsys.readouterr().err
    other = write("other", {"foot": "right_fore", "stage": "hot_fit", "observations": {}})
    assert main(["assess", other, "--follows", hot]) == 65
    assert "foot: The assessment that it follows is of left_fore" in capsys.readouterr().err
    assert main(["assess", second, "--follows", "none.json"]) == 65
    assert main(["assess", second, hot, "--follows", hot]) == 64
