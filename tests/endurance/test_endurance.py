"""The endurance tests at a small count; ``python -m tests.endurance`` runs them in full."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.endurance import database_killed, injected, killed, mutated, readonly, removed, schema
from tests.endurance.__main__ import main
from tests.endurance.databases import DATABASES
from tests.endurance.report import Report

SEED = 20260304
on_each_database = pytest.mark.parametrize(
    "database", [DATABASES[0], *(pytest.param(name, marks=pytest.mark.long) for name in DATABASES[1:])]
)


def check(report: Report, *tried: str) -> None:
    """No fault, and each of these was met."""
    assert report.faults == [], report.text()
    assert [name for name in tried if not report.figures.get(name)] == [], report.text()


@on_each_database
def test_what_was_acknowledged_is_there_once_and_unchanged_after_the_service_was_killed(
    tmp_path: Path, database: str
) -> None:
    report = killed.run(3, database, tmp_path, SEED)
    check(report, "killed while it started", "killed under load", "acknowledged", "times verified")


@pytest.mark.long
def test_the_service_says_that_its_database_is_gone_and_comes_back_by_itself(tmp_path: Path) -> None:
    report = database_killed.run(1, "postgresql", tmp_path, SEED)
    check(report, "killed: server", "answered 503", "acknowledged", "times verified")


@pytest.mark.long
def test_nothing_is_acknowledged_while_the_file_is_not_where_it_was(tmp_path: Path) -> None:
    check(removed.run(len(removed.BLOWS), "sqlite", tmp_path, SEED), *removed.BLOWS, "acknowledged", "answered 503")


def test_what_was_acknowledged_is_read_and_nothing_more_is_while_the_disk_may_only_be_read(tmp_path: Path) -> None:
    try:
        report = readonly.run(len(readonly.WAYS), "sqlite", tmp_path, SEED)
    except readonly.NotAllowedHere as reason:
        pytest.skip(str(reason))
    check(report, *readonly.WAYS, "log left by a kill, bytes", "acknowledged", "read meanwhile", "lines of logs")


def test_whatever_a_fitting_has_become_it_is_answered_as_declared(tmp_path: Path) -> None:
    report = mutated.run(150, "sqlite", tmp_path, SEED)
    check(report, *(f"assessments answered {status}" for status in (200, 201, 400, 422)), "batch answered 200")
    assert any(name.startswith("real server") for name in report.figures)


@pytest.mark.long
def test_what_the_openapi_document_allows_and_forbids_is_answered_as_it_says(tmp_path: Path) -> None:
    phases = [phase for phase in schema.PHASES if phase != "coverage"]
    check(schema.run(2, "sqlite", tmp_path, SEED, ways=("key",), phases=phases), "key: requests")


@on_each_database
def test_a_text_with_a_meaning_elsewhere_is_only_a_text(tmp_path: Path, database: str) -> None:
    check(injected.run(2, database, tmp_path, SEED), "answered 201", "answered 404", "drawings", "lines of the log")


def test_the_command_runs_a_test_prints_its_figures_and_tells_by_its_status(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["mutated", "--count", "2", "--seed", "1"]) == 0
    printed = capsys.readouterr().out.splitlines()
    assert printed[0] == "mutated: 2 bodies, sqlite, seed 1"
    assert printed[-1] == "  no fault"
    monkeypatch.setattr(mutated, "run", lambda *_: Report("it ran", faults=["something"]))
    assert main(["mutated"]) == 1
    assert capsys.readouterr().out.splitlines() == ["it ran", "  FAULT something", "  1 faults"]
