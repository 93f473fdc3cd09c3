"""The command line: what it prints, and the exit status that scripts rely on."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from fitcheck.cli import main
from fitcheck.rulebooks.cases import table_cases
from rules import EngineFault, Evaluator, shipped_rulebook
from tests.support.paths import ROOT

CASES = ROOT / "cases_demo"
Captured = pytest.CaptureFixture[str]


def case(name: str) -> str:
    return str(CASES / f"{name}.json")


@pytest.mark.parametrize(
    ("name", "status", "says"),
    [
        ("good-draught-fore", 0, "RELEASE"),
        ("tight-heels-good-toe", 1, "PUT RIGHT"),
        ("flinch", 2, "STOP AND REFER"),
        ("incomplete", 3, "INCOMPLETE"),
    ],
)
def test_the_exit_status_is_the_decision(name: str, status: int, says: str, capsys: Captured) -> None:
    assert main(["assess", case(name)]) == status
    assert says in capsys.readouterr().out


def test_the_text_is_the_text_beside_the_case(capsys: Captured) -> None:
    main(["assess", case("flinch")])
    said = capsys.readouterr().out.replace("flinch.json:", "flinch:", 1)
    assert said.split() == (CASES / "flinch.txt").read_text(encoding="utf-8").split()


def test_stop_stands_before_everything_else(capsys: Captured) -> None:
    main(["assess", case("flinch")])
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith("STOP AND REFER")
    assert "STOP." in lines[4]


def test_of_several_files_the_gravest_status_counts(capsys: Captured) -> None:
    assert main(["assess", case("incomplete"), case("good-draught-fore")]) == 3
    assert main(["assess", case("incomplete"), case("heel-uncovered")]) == 1
    assert main(["assess", case("heel-uncovered"), case("flinch"), case("good-draught-fore")]) == 2
    assert capsys.readouterr().out.count("Cautions") == 7


def test_all_says_each_reading_that_was_not_assessed_and_every_caution(capsys: Captured) -> None:
    main(["assess", case("heel-uncovered")])
    short = capsys.readouterr().out
    main(["assess", "--all", case("heel-uncovered")])
    whole = capsys.readouterr().out
    hazards = "Hot iron, sharp nails and clinches, and smoke all hurt people."
    unobserved = "Dressing: hoof against pastern, from the side;"
    assert (hazards in short, hazards in whole) == (False, True)
    assert (unobserved in short, unobserved in " ".join(whole.split())) == (False, True)
    assert "More: --all." in short
    assert "--all" not in whole


def test_json_is_one_document_a_line(capsys: Captured) -> None:
    assert main(["assess", "--json", case("flinch"), case("good-draught-fore")]) == 2
    documents = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [document["decision"] for document in documents] == ["stop_and_refer", "release"]


def of_visit(folder: Path, foot: str, visit: str | None = "v-1", **changes: object) -> str:
    """The good fitting as another foot of a visit."""
    good = json.loads(Path(case("good-draught-fore")).read_bytes())
    fitting = good | {"foot": foot, "visit": visit, "horse": {"id": "H-1"}} | changes
    file = folder / f"{foot}-{len(list(folder.iterdir()))}.json"
    file.write_text(json.dumps({name: value for name, value in fitting.items() if value is not None}))
    return str(file)


def uneven(folder: Path, **changes: Any) -> list[str]:
    """Two fore feet that are each released, and whose walls are far from equally high."""
    good = json.loads(Path(case("good-draught-fore")).read_bytes())
    return [
        of_visit(folder, foot, hoof=good.get("hoof", {}) | {"wall_height": height}, **changes)
        for foot, height in (("left_fore", 90), ("right_fore", 110))
    ]


def test_two_feet_of_a_visit_that_the_pair_holds_up_are_not_released(tmp_path: Path, capsys: Captured) -> None:
    files = uneven(tmp_path)
    for file in files:
        assert main(["assess", file]) == 0
    capsys.readouterr()
    assert main(["assess", *files]) == 1
    said = capsys.readouterr().out
    assert said.count("RELEASE") == 2
    whole = " ".join(said[said.index("Visit v-1: left fore, right fore") :].split())
    assert "Put right before the horse leaves." in whole
    assert "This comes from: fore pair." in whole
    assert "major" in whole
    assert "left 90 mm, right 110 mm" in whole


def test_json_has_a_line_for_a_visit_after_those_of_its_files(tmp_path: Path, capsys: Captured) -> None:
    files = uneven(tmp_path)
    assert main(["assess", "--json", *files]) == 1
    *feet, whole = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [each["decision"] for each in feet] == ["release", "release"]
    assert (whole["visit"], whole["decision"], whole["decided_by"]) == ("v-1", "put_right", ["pair:fore"])
    assert [each["assessment"] for each in whole["feet"]] == [each["id"] for each in feet]


def test_a_pair_is_told_in_the_language_that_is_asked_for(tmp_path: Path, capsys: Captured) -> None:
    assert main(["assess", "--language", "de", *uneven(tmp_path)]) == 1
    said = capsys.readouterr().out
    assert "Termin v-1: " in said
    assert "Richten, ehe das Pferd geht." in said


def test_feet_of_no_visit_or_of_two_are_judged_alone(tmp_path: Path, capsys: Captured) -> None:
    assert main(["assess", *uneven(tmp_path, visit=None)]) == 0
    first, _ = uneven(tmp_path)
    _, second = uneven(tmp_path, visit="v-2")
    assert main(["assess", first, second]) == 0
    assert "Visit" not in capsys.readouterr().out


def test_a_visit_of_which_one_foot_cannot_be_compared_says_why(tmp_path: Path, capsys: Captured) -> None:
    files = [of_visit(tmp_path, "left_fore"), of_visit(tmp_path, "left_hind")]
    main(["assess", *files])
    said = capsys.readouterr().out
    assert "The right fore was not seen" in said
    assert "The right hind was not seen" in said


def test_two_horses_under_one_visit_are_told_and_nothing_is_released(tmp_path: Path, capsys: Captured) -> None:
    files = [of_visit(tmp_path, "left_fore"), of_visit(tmp_path, "right_fore", horse={"id": "H-2"})]
    assert main(["assess", *files]) == 65
    said = capsys.readouterr()
    assert "visit v-1: horse.id" in said.err
    assert "H-2" in said.err
    assert said.out.count("RELEASE") == 2


def test_a_pair_that_could_not_be_judged_is_70(
    tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise EngineFault("lost")

    files = uneven(tmp_path)
    monkeypatch.setattr("fitcheck.pairs.visit.pairs_of", fail)
    assert main(["assess", *files]) == 70
    assert "visit v-1: its pairs could not be judged" in capsys.readouterr().err


def test_a_fitting_comes_from_standard_input(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(Path(case("high-nail")).read_bytes())))
    assert main(["assess", "-"]) == 1
    assert "medial nail 2" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("content", "says"),
    [
        pytest.param(b"", "empty", id="an empty file"),
        pytest.param(b"{", "line", id="broken JSON"),
        pytest.param(b'{"foot": 1, "foot": 2}', "foot", id="a duplicate key"),
        pytest.param(b"[]", "object", id="not an object"),
        pytest.param(b"{}", "foot", id="nothing in it"),
        pytest.param(
            b'{"foot": "left_fore", "stage": "hot_fit", "work": "plough", "observations": {}}',
            "plough",
            id="a wrong word",
        ),
    ],
)
def test_bad_input_is_65_and_names_file_and_fault(content: bytes, says: str, tmp_path: Path, capsys: Captured) -> None:
    file = tmp_path / "foot.json"
    file.write_bytes(content)
    assert main(["assess", str(file)]) == 65
    error = capsys.readouterr().err
    assert "foot.json" in error
    assert says in error
    assert "Traceback" not in error


def test_a_file_that_is_not_there_is_bad_input(tmp_path: Path, capsys: Captured) -> None:
    assert main(["assess", str(tmp_path / "none.json")]) == 65
    assert "No such file" in capsys.readouterr().err


def test_one_bad_file_does_not_hide_the_others(tmp_path: Path, capsys: Captured) -> None:
    file = tmp_path / "bad.json"
    file.write_bytes(b"{")
    assert main(["assess", str(file), case("flinch")]) == 65
    assert "STOP AND REFER" in capsys.readouterr().out


@pytest.mark.parametrize("words", [[], ["shoe"], ["assess"], ["assess", "--loud", "x"], ["rules"], ["rules", "show"]])
def test_bad_usage_is_64(words: list[str], capsys: Captured) -> None:
    with pytest.raises(SystemExit) as caught:
        main(words)
    assert caught.value.code == 64
    assert "usage:" in capsys.readouterr().err


def test_an_engine_fault_is_70_and_says_nothing_of_the_foot(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    def fail(*_: object) -> None:
        raise EngineFault("forced")

    monkeypatch.setattr(Evaluator, "evaluate", fail)
    assert main(["assess", case("good-draught-fore")]) == 70
    said = capsys.readouterr()
    assert said.out == ""
    assert "could not be assessed" in said.err


def test_rules_check_accepts_the_shipped_book_and_its_copy(capsys: Captured) -> None:
    assert main(["rules", "check"]) == 0
    assert main(["rules", "check", str(ROOT / "rules" / "book")]) == 0
    first, digest, second, same = capsys.readouterr().out.splitlines()
    assert (first, digest) == (second, same)


def test_rules_check_refuses_a_folder_that_is_no_rulebook(tmp_path: Path, capsys: Captured) -> None:
    assert main(["rules", "check", str(tmp_path)]) == 65
    assert "book.toml" in capsys.readouterr().err
    assert main(["rules", "check", str(tmp_path / "nowhere")]) == 65


def test_rules_list_has_every_rule_once(capsys: Captured) -> None:
    assert main(["rules", "list"]) == 0
    ids = [line.split()[0] for line in capsys.readouterr().out.splitlines()]
    book = shipped_rulebook()
    assert ids == [*book.rules, *book.joined]


def test_every_rule_is_shown_with_its_sources_and_the_demo_cases_in_which_it_fires(capsys: Captured) -> None:
    book = shipped_rulebook()
    answers = {
        path.name.removesuffix(".answer.json"): path.read_text(encoding="utf-8") for path in CASES.glob("*.answer.json")
    }
    seen = 0
    for rule_id in (*book.rules, *book.joined):
        assert main(["rules", "show", rule_id]) == 0
        said = " ".join(capsys.readouterr().out.split())
        for source in book.remedy(rule_id).sources:
            assert f"[{source}]" in said
        assert "caution" in said
        named = set(re.findall(r"- ([a-z-]+): at [^;]+; decision ", said))
        fires = {name for name, answer in answers.items() if f'"rule": "{rule_id}"' in answer}
        assert named == fires
        assert ("none of them fires it" in said) == (not fires)
        seen += len(fires)
    assert seen > 30


def test_in_a_checkout_a_rule_is_shown_with_the_cases_that_try_it(capsys: Captured) -> None:
    main(["rules", "show", "heel-not-covered"])
    said = " ".join(capsys.readouterr().out.split())
    assert "tests/cases/heel_fit.toml" in said
    assert "- heel-not-covered, past its limit: length -0.1 at medial heel" in said
    assert "tests/cases/joined.toml" not in said


def test_every_rule_has_a_case_in_the_tables() -> None:
    book = shipped_rulebook()
    assert [rule_id for rule_id in (*book.rules, *book.joined) if not list(table_cases(rule_id))] == []


def test_without_a_checkout_no_table_cases_are_named(tmp_path: Path) -> None:
    assert list(table_cases("heel-not-covered", tmp_path / "cases")) == []


def test_an_unknown_rule_gets_a_hint(capsys: Captured) -> None:
    assert main(["rules", "show", "heel-tight"]) == 64
    assert "heel-width-tight" in capsys.readouterr().err


def test_the_demo_goes_through_a_real_server(capsys: Captured) -> None:
    assert main(["demo"]) == 0
    said = capsys.readouterr().out
    assert "/v1/assessments?keep=false" in said
    assert "Both heels are tight" in said


def test_the_demo_lists_its_cases_and_knows_no_others(capsys: Captured) -> None:
    assert main(["demo", "--list"]) == 0
    listed = dict(line.split(maxsplit=1) for line in capsys.readouterr().out.splitlines())
    assert listed["flinch"].startswith("Left hind, nailed. Low Meadow")
    assert not [name for name in listed if "answer" in name]
    assert main(["demo", "flinch.answer"]) == 64
    assert main(["demo", "shoe"]) == 64
    capsys.readouterr()
    assert main(["demo", "--list", "--language", "de"]) == 0
    assert "Hinterhuf links, aufgenagelt. Low Meadow" in capsys.readouterr().out


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words],
        check=False,
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        env={"PYTHONPATH": str(ROOT)},
    )


def test_a_pipe_gets_no_colour_codes() -> None:
    done = run("-m", "fitcheck", "assess", case("flinch"))
    assert done.returncode == 2
    assert "\x1b" not in done.stdout


def test_assess_imports_nothing_of_the_web() -> None:
    """What keeps a cold start short; its time is measured in benchmarks, not in a test."""
    probe = (
        "import sys; from fitcheck.cli import main; "
        f"status = main(['assess', '--json', {case('flinch')!r}]); "
        "heavy = {'fastapi', 'starlette', 'uvicorn', 'httpx', 'api', 'asyncio', 'fitcheck.explanation.models'}; "
        "heavy &= set(sys.modules); "
        "print(sorted(heavy))"
    )
    done = run("-c", probe)
    assert done.stdout.splitlines()[-1] == "[]", done.stderr
