"""``fitcheck regrade``: kept fittings under another rulebook; broken off anyhow, the report is gone on with."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.cli import main
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Draft, Store, open_store
from fitcheck.rulebooks.compare import Comparing
from rules import first_rulebook, load_rulebook, shipped_rulebook
from tests.support.kept_fittings import kept_fittings
from tests.support.paths import ROOT

YARD_BOOK = str(ROOT / "cases_demo" / "yard_book")
Captured = pytest.CaptureFixture[str]
Run = Callable[..., int]


def address(store: Store) -> str:
    return store._engine.url.render_as_string(hide_password=False)


@pytest.fixture
def run(store: Store) -> Run:
    """Runs ``fitcheck regrade`` on the store, under the yard's book unless another is named."""

    def go(*words: str, book: str = YARD_BOOK) -> int:
        return main(["regrade", *words, "--rulebook", book, "--records", address(store)])

    return go


def lines_of(text: str) -> tuple[dict[str, Any], list[dict[str, Any]], dict[str, Any]]:
    """Head, records and summary of a report."""
    head, *records, summary = map(json.loads, text.splitlines())
    return head, records, summary["summary"]


def test_the_report_says_what_comparing_both_books_says(store: Store, run: Run, capsys: Captured) -> None:
    kept = store.keep_many([*kept_fittings(12)])
    assert run("--json") == 1
    head, records, summary = lines_of(capsys.readouterr().out)
    yard = load_rulebook(Path(YARD_BOOK))
    assert head["rulebook"] == {"id": yard.id, "version": yard.version, "digest": yard.digest}
    assert head["store"] == kept[0].digest
    comparing = Comparing(shipped_rulebook(), yard)
    decisions: Counter[str] = Counter()
    findings: Counter[tuple[str, str]] = Counter()
    for record, line in zip(kept, records, strict=True):
        case = comparing.compare(record.id, json.loads(record.received))
        assert (line["number"], line["id"], line["digest"]) == (record.number, record.id, record.digest)
        assert line["rulebook"] == {"version": record.rulebook_version, "digest": record.rulebook_digest}
        assert line["decision"] == {"before": case.before, "after": case.after}
        assert line["changes"] == case.changes
        assert [(one["id"], one["change"]) for one in line["findings"]] == [(one.id, one.how) for one in case.findings]
        assert line["actions"] == {"gone": list(case.actions.gone), "new": list(case.actions.new)}
        decisions.update([f"{case.before} to {case.after}"] if case.decision_changes else [])
        findings.update((one.id.split("@", 1)[0], one.how) for one in case.findings)
    assert decisions
    assert findings
    assert summary["decisions"] == decisions
    told = {(rule, how): count for rule, counts in summary["rules"].items() for how, count in counts.items() if count}
    assert told == findings
    assert summary["records"] == 12
    assert store.head().number == 12


def judged_by_the_first_book(draft: Draft, **edits: Any) -> Draft:
    """The same fitting with other observations (by dotted path), kept as the first contract's rulebook answers it."""
    raw, book = json.loads(draft.received), first_rulebook()
    for path, value in edits.items():
        *parents, last = path.split("__")
        here = raw
        for step in parents:
            here = here[step]
        here[last] = value
    answer = assess(parse_fitting(raw, book), book)
    return replace(
        draft,
        received=json.dumps(raw).encode(),
        answer=answer.model_dump_json().encode(),
        decision=answer.decision,
        rulebook_version=book.version,
        rulebook_digest=book.digest,
    )


def test_new_readings_other_measures_and_other_limits_are_counted_apart(
    store: Store, run: Run, good: dict[str, Any], capsys: Captured
) -> None:
    """From 1.3.0 to the shipped book: walk is a field that was not judged; 1 mm at a fore heel is no longer close."""
    [one] = kept_fittings(1)
    first = replace(one, received=json.dumps(good).encode())
    store.keep_many(
        [
            judged_by_the_first_book(first, observations__going={"walk": "short"}),
            judged_by_the_first_book(replace(first, id="b"), observations__heel_fit__medial__width=1),
        ]
    )
    assert run("--json", book="shipped") == 1
    _, records, summary = lines_of(capsys.readouterr().out)
    causes = {finding["id"]: finding["cause"] for line in records for finding in line["findings"]}
    assert causes["walk-short@foot"] == "field"
    assert causes["heel-width-close@medial_heel"] == "book"
    assert summary["causes"] == {cause: list(causes.values()).count(cause) for cause in ("field", "measure", "book")}
    assert run(book="shipped") == 1
    assert "1 by a reading that one of the answers does not have" in capsys.readouterr().out


def test_nothing_changes_under_the_book_that_judged(store: Store, run: Run, capsys: Captured) -> None:
    store.keep_many([*kept_fittings(25)])
    assert run("--json", book="shipped") == 0
    _, records, summary = lines_of(capsys.readouterr().out)
    assert not [line for line in records if line["changes"]]
    assert (summary["records"], summary["unchanged"], summary["rules"]) == (25, 25, {})


def test_as_text_what_changes_stands_before_what_all_comes_to(store: Store, run: Run, capsys: Captured) -> None:
    kept = store.keep_many([*kept_fittings(25)])
    assert run() == 1
    said = capsys.readouterr().out
    assert f"{kept[2].id}: put right, was release" in said
    assert "interval-long at the foot" in said
    assert "25 records: " in said
    assert "release to put right: " in said


def test_what_was_erased_and_what_the_book_does_not_take_is_told(store: Store, run: Run, capsys: Captured) -> None:
    generous = json.loads((ROOT / "cases_demo" / "yard_book" / "generous-heel.json").read_text(encoding="utf-8"))
    generous["observations"]["heel_fit"]["medial"]["width"] = "generous"  # a word of an earlier book of the yard
    one, two, three = kept_fittings(3)
    strange = replace(two, received=json.dumps(generous).encode(), person="A-70", assessor=None)
    unread = replace(three, answer=b'{"decision": "release"}', person="A-71")
    store.keep_many([replace(one, person="A-72"), strange, unread])
    store.erase("A-72", reason="asked for", created="2026-04-01T09:00:00.000Z")
    assert run("--json", book="shipped") == 70
    _, records, summary = lines_of(capsys.readouterr().out)
    assert records[0]["erased"] is True
    assert records[1]["decision"]["after"] == "refused"
    assert "generous" in records[1]["refused"][0]["detail"]
    assert "cannot" not in records[2]["problem"]
    assert "not one that this fitcheck can read" in records[2]["problem"]
    assert (summary["records"], summary["erased"], summary["failed"]) == (3, 1, 1)
    assert summary["decisions"] == {f"{strange.decision} to refused": 1}


def test_filters_hold_and_corrected_assessments_can_be_left_out(store: Store, run: Run, capsys: Captured) -> None:
    first, second, third = kept_fittings(3)
    store.keep_many([first, replace(second, about=first.id), third])
    for words, numbers in (((), [1, 2, 3]), (("--current",), [2, 3]), (("--horse", "H-3"), [3])):
        run("--json", *words)
        assert [line["number"] for line in lines_of(capsys.readouterr().out)[1]] == numbers


def test_a_report_that_was_whole_is_gone_on_with_what_came_since(store: Store, run: Run, tmp_path: Path) -> None:
    file = tmp_path / "report"
    store.keep_many([*kept_fittings(4)])
    run("--output", str(file))
    store.keep_many([*kept_fittings(3)])
    run("--output", str(file), "--resume")
    resumed = file.read_text(encoding="utf-8")
    run("--output", str(file))
    assert file.read_text(encoding="utf-8") == resumed
    assert [line["number"] for line in lines_of(resumed)[1]] == [1, 2, 3, 4, 5, 6, 7]


@pytest.mark.parametrize("left", [0, 1, 50, 5_000, -1, -300])
def test_a_report_cut_off_anywhere_is_gone_on_with(store: Store, run: Run, tmp_path: Path, left: int) -> None:
    file = tmp_path / "report"
    store.keep_many([*kept_fittings(5)])
    run("--output", str(file))
    whole = file.read_bytes()
    file.write_bytes(whole[:left])
    assert run("--output", str(file), "--resume") in {0, 1}
    assert file.read_bytes() == whole


def test_a_report_of_something_else_is_left_as_it_is(store: Store, run: Run, tmp_path: Path, capsys: Captured) -> None:
    file = tmp_path / "report"
    store.keep_many([*kept_fittings(3)])
    run("--output", str(file))
    whole = file.read_text(encoding="utf-8")
    with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as other:
        other.keep_many([*kept_fittings(3)])
        foreign = address(other)
    words = ["regrade", "--output", str(file), "--resume", "--rulebook", YARD_BOOK, "--records", foreign]
    head, first, *_ = whole.splitlines(keepends=True)
    reports: list[tuple[Callable[[], int], str, str]] = [
        (lambda: main(words), whole, "another store"),
        (lambda: run("--output", str(file), "--resume", book="shipped"), whole, "another rulebook"),
        (lambda: run("--output", str(file), "--resume", "--current"), whole, "another choice of records"),
        (lambda: run("--output", str(file), "--resume"), "Dear yard", "no report"),
        (lambda: run("--output", str(file), "--resume"), '{"a": 1}\n', "no report"),
        (lambda: run("--output", str(file), "--resume"), f"{head}[]\n", "Line 2"),
        (lambda: run("--output", str(file), "--resume"), f"{head}{{}}\n{first}", "Line 2"),
        (
            lambda: run("--output", str(file), "--resume"),
            head + first.replace('"digest":"sha256:', '"digest":"sha256:0', 1),
            "not in the store",
        ),
    ]
    for go, content, says in reports:
        file.write_text(content, encoding="utf-8")
        assert go() == 65, says
        assert says in capsys.readouterr().err
        assert file.read_text(encoding="utf-8") == content


def test_going_on_without_a_report_is_bad_usage(capsys: Captured) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["regrade", "--resume"])
    assert caught.value.code == 64
    assert "--output" in capsys.readouterr().err


def test_without_a_store_there_is_nothing_to_regrade(tmp_path: Path, capsys: Captured) -> None:
    assert main(["regrade", "--records", f"sqlite:///{tmp_path / 'none'}"]) == 70
    assert "no record store" in capsys.readouterr().err


_MANY = 400


def many(store: Store) -> None:
    """So many that a run can be broken off; a few fittings stand for all of them."""
    few = [*kept_fittings(8)]
    store.keep_many([replace(few[number % 8], id=f"{few[number % 8].id}-{number}") for number in range(_MANY)])


def started(store: Store, file: Path, *words: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "fitcheck", "regrade", "--records", address(store), "--rulebook", YARD_BOOK]
    command += ["--output", str(file), *words]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def wait_for_lines(file: Path, size: int, process: subprocess.Popen[bytes]) -> None:
    patience = time.monotonic() + 60
    while not file.exists() or file.stat().st_size < size:
        assert process.poll() is None, "it ended too soon to be broken off"
        assert time.monotonic() < patience
        time.sleep(0.002)


@pytest.mark.long("postgres")
def test_killed_in_the_midst_it_goes_on_and_comes_to_the_same(store: Store, run: Run, tmp_path: Path) -> None:
    many(store)
    file, at_one_go = tmp_path / "report", tmp_path / "at-one-go"
    sizes = []
    for words in ((), ("--resume",), ("--resume",)):
        before = file.stat().st_size if file.exists() else 0
        process = started(store, file, *words)
        wait_for_lines(file, before + 30_000, process)
        os.kill(process.pid, signal.SIGKILL)
        process.communicate()
        assert process.returncode == -signal.SIGKILL
        sizes.append(file.stat().st_size)
    assert sizes == sorted(set(sizes)), "each run went further than the one before"
    assert b'"summary"' not in file.read_bytes()
    assert run("--output", str(file), "--resume") == run("--output", str(at_one_go)) == 1
    assert file.read_bytes() == at_one_go.read_bytes()
    assert len(lines_of(file.read_text(encoding="utf-8"))[1]) == _MANY


@pytest.mark.long("postgres")
def test_ctrl_c_leaves_whole_lines_and_the_rest_can_follow(store: Store, run: Run, tmp_path: Path) -> None:
    many(store)
    file = tmp_path / "report"
    process = started(store, file)
    wait_for_lines(file, 30_000, process)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate()
    assert process.returncode == 130
    assert b"broken off" in said
    assert b"Traceback" not in said
    content = file.read_bytes()
    assert content.endswith(b"\n")
    head, *records = map(json.loads, content.splitlines())
    assert head["regrade"] == 2
    assert [line["number"] for line in records] == [*range(1, len(records) + 1)]
    assert 0 < len(records) < _MANY
    assert run("--output", str(file), "--resume") == 1
    assert file.read_bytes().startswith(content)
    assert lines_of(file.read_text(encoding="utf-8"))[2]["records"] == _MANY
