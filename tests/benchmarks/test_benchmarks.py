"""The benchmarks run, on sizes so small that their figures say nothing; what must be equal is equal."""

from __future__ import annotations

import importlib
import json
from pathlib import Path
from typing import Any

import pytest

from benchmarks import __main__ as command
from benchmarks.fittings import fittings
from benchmarks.harness import Bound, Result, by_turns
from benchmarks.results import shown, write
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from rules import shipped_rulebook

SMALL: dict[str, dict[str, Any]] = {
    "assess": {"fittings": 3, "rounds": 1},
    "simplicity": {"fittings": 3, "rounds": 1},
    "http": {"bodies": 3, "connections": 2, "seconds": 0.2, "rounds": 1},
    "stages": {"bodies": 3, "passes": 1, "connections": 2, "seconds": 0.2, "rounds": 1},
    "keeping": {"bodies": 3, "connections": 2, "seconds": 0.2, "rounds": 1},
    "brief": {"bodies": 3, "connections": 2, "seconds": 0.2, "rounds": 1},
    "batch": {"lines": 60, "rounds": 1, "stream": 60},
    "memory": {"assessments": 40},
    "cold": {"rounds": 1},
    "measures": {"rounds": 1},
    "growth": {"small": 200, "times": 2, "rounds": 1},
    "cluster": {"fittings": 400, "rounds": 1},
    "million": {"fittings": 600, "workers": 2, "sample": 20},
}
SERVERS = {"brief", "http", "stages", "keeping", "batch", "growth", "cluster", "million"}
"""Benchmarks that start servers or workers or fill stores take long."""
PEERS = ("clips", "rule_engine", "json_logic", "datalogic_py")


def peers() -> None:
    for module in PEERS:
        pytest.importorskip(module, reason="the engines to compare with are the optional extra 'bench'")


def test_every_benchmark_is_tried_here() -> None:
    assert {*SMALL, "engines"} == set(command.NAMES)


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.long] if name in SERVERS else []) for name in SMALL]
)
def test_a_benchmark_runs_and_says_what_it_found(name: str) -> None:
    module = importlib.import_module(f"benchmarks.{command.NAMES[name]}")
    result: Result = module.run(module.Sizes(**SMALL[name]))
    assert result.name == name
    assert result.rows
    assert "{" not in result.how
    assert all(bound.value >= 0 for bound in result.bounds) or name in {"batch", "memory"}  # memory may shrink


def test_every_engine_finds_the_same_in_hundreds_of_fittings() -> None:
    peers()
    from benchmarks import engines  # noqa: PLC0415  (only where the peers are installed)
    from rules import shipped_rulebook  # noqa: PLC0415

    book = shipped_rulebook()
    given, known = engines.cases(330, book), engines.engines(book)
    assert len(known) == 1 + len(PEERS) + 2  # ours, the others, and two of them behind our sieve
    assert engines.unequal(given, known) == []
    ours = next(iter(known.values()))
    found = {rule for case in given for rule, _ in engines.found_by(ours, case)}
    # Enough of the book is met, in both layers, for equal findings to mean something.
    assert len(found & set(book.rules)) > len(book.rules) / 2
    assert len(found & set(book.joined)) >= 3


def test_an_engine_that_finds_other_things_is_told() -> None:
    peers()
    from benchmarks import engines  # noqa: PLC0415  (only where the peers are installed)
    from rules import shipped_rulebook  # noqa: PLC0415

    book = shipped_rulebook()
    known = engines.engines(book) | {"blind": lambda _: set()}
    told = engines.unequal(engines.cases(20, book), known)
    assert told
    assert all("blind" in line for line in told)


def test_the_engines_are_compared() -> None:
    peers()
    from benchmarks import engines  # noqa: PLC0415  (only where the peers are installed)

    result = engines.run(engines.Sizes(fittings=3, rounds=1))
    # Twice is promised against the engines that it names; json-logic in Rust is shown beside them.
    [promised] = result.bounds
    assert promised.least == 2.0
    assert "json-logic in Rust" not in promised.what
    assert any(what.startswith("json-logic in Rust") for what, _ in result.rows)


@pytest.mark.long
def test_the_profile_adds_up() -> None:
    from benchmarks import stages  # noqa: PLC0415  (what is timed is imported where it is tried)

    rows = dict(stages.run(stages.Sizes(**SMALL["stages"])).rows)
    us = {
        what: int(figure.split()[0].replace(",", "")) for what, figure in rows.items() if " µs" in figure.split("(")[0]
    }
    of_ours = [each for what, each in us.items() if what.startswith("of ours: ")]
    of_the_assessment = [each for what, each in us.items() if what.startswith("of the assessment: ")]
    # Each is rounded to a whole microsecond.
    assert sum(of_ours) == pytest.approx(us["our route, in process"], abs=len(of_ours))
    assert sum(of_the_assessment) == pytest.approx(us["of ours: the assessment"], abs=len(of_the_assessment))


def test_what_follows_from_the_profile() -> None:
    from benchmarks import stages  # noqa: PLC0415  (the same)

    # By hand: 300 µs bare, 900 µs ours, of which 400 µs assess: 300/900, 300/(300+400), 300/0.6-(900-400), 300/0.6-300.
    assert [figure for _, figure in stages.what_follows(400, 900, 300)] == [
        "0.33",
        "0.43",
        "none is short enough (now 400 µs)",
        "200 µs (now 400 µs)",
    ]
    assert [figure for _, figure in stages.what_follows(400, 800, 300)][2] == "100 µs (now 400 µs)"


def test_steps_that_are_no_longer_those_of_the_assessment_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from benchmarks import steps  # noqa: PLC0415  (what is timed is imported where it is tried)

    bodies = [json.dumps(document).encode() for document in fittings(20)]
    taken = steps.Steps(bodies, shipped_rulebook())
    taken.check()
    monkeypatch.setattr(steps, "build_findings", lambda *_: [])
    with pytest.raises(ValueError, match="no longer those"):
        taken.check()


def test_the_fittings_are_whole_the_same_each_time_and_about_six_in_ten_have_no_fault() -> None:
    first, again = list(fittings(300)), list(fittings(300))
    assert json.dumps(first) == json.dumps(again)
    answers = [assess(Fitting.model_validate(each)) for each in first]
    assert [answer.still_needed for answer in answers if answer.still_needed] == []
    assert 0.5 < sum(not answer.findings for answer in answers) / len(answers) < 0.7
    assert {answer.decision for answer in answers} == {"release", "go_on", "put_right", "stop_and_refer"}


def test_all_that_is_compared_takes_its_turn_in_every_round() -> None:
    order: list[str] = []
    seconds = by_turns({"one": lambda: order.append("one"), "two": lambda: order.append("two")}, 2)
    assert order == ["one", "two", "two", "one"]
    assert {name: len(each) for name, each in seconds.items()} == {"one": 2, "two": 2}


@pytest.mark.parametrize(
    ("bound", "met"),
    [
        (Bound("speed", 2.0, least=2.0), True),
        (Bound("speed", 1.99, least=2.0), False),
        (Bound("time", 6.0, most=6.0), True),
        (Bound("time", 6.01, most=6.0), False),
    ],
)
def test_a_promise_is_told_as_met_or_not(bound: Bound, met: bool) -> None:  # noqa: FBT001  (a column of the table)
    assert bound.met is met
    assert ("NOT met" in str(bound)) is not met


def test_a_part_that_is_run_again_takes_the_place_of_the_old_one_and_leaves_the_others(tmp_path: Path) -> None:
    file = tmp_path / "RESULTS.md"
    write([_result("cold", "100 ms"), _result("assess", "1 ms")], tuple(command.NAMES), file)
    before = file.read_text(encoding="utf-8")
    write([_result("cold", "90 ms")], tuple(command.NAMES), file)
    after = file.read_text(encoding="utf-8")
    assert after == before.replace("| 100 ms |", "| 90 ms |")
    assert after.index("<!-- assess -->") < after.index("<!-- cold -->")
    assert after.count("Measured on ") == 2


def test_the_command_prints_and_its_status_says_whether_every_promise_was_kept(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = _result("cold", "1 ms")
    broken = Result("cold", "A title", "How.", kept.rows, (Bound("ratio", 5.0, most=4.0),))
    for result, status in ((kept, 0), (broken, 1)):
        monkeypatch.setattr(command, "_run", lambda *_, result=result: result)
        assert command.main(["cold"]) == status
        assert capsys.readouterr().out == f"{shown(result)}\n\n"


def test_an_unknown_benchmark_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        command.main(["colds"])
    assert "no benchmark 'colds'" in capsys.readouterr().err


def _result(name: str, figure: str) -> Result:
    return Result(name, "A title", "How it was measured.", (("what", figure),))
