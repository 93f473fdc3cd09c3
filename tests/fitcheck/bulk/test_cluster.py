"""Work on a real Dask cluster of this machine: equal answers, also when workers are killed half-way."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from fitcheck.bulk import (
    BookName,
    ClusterLost,
    LinePart,
    assess_part,
    in_order,
    record_parts,
    regrade_part,
)
from fitcheck.bulk.cluster import Cluster
from fitcheck.cli import main
from fitcheck.records import RecordFilter, open_store
from rules import shipped_rulebook
from tests.support.kept_fittings import kept_fittings
from tests.support.random_fittings import random_fittings

pytestmark = [
    pytest.mark.filterwarnings("default"),  # of Dask and what it stands on
    pytest.mark.xdist_group("cluster"),
]
BOOK = BookName("shipped", shipped_rulebook().digest)
LINES = [json.dumps(each).encode() for each in random_fittings(21, 96)]
PARTS = [LinePart(at + 1, tuple(LINES[at : at + 8]), BOOK, "2026-03-04T10:00:00.000Z") for at in range(0, 96, 8)]


@pytest.fixture(scope="module")
def cluster() -> Iterator[Cluster]:
    with Cluster(workers=2) as made:
        yield made


def test_two_workers_answer_what_one_process_does_in_order(cluster: Cluster) -> None:
    assert len(cluster.processes()) == 2
    assert list(in_order(assess_part, PARTS, cluster)) == list(in_order(assess_part, PARTS))


@pytest.mark.long
def test_a_worker_that_is_killed_half_way_changes_nothing(cluster: Cluster) -> None:
    expected = list(in_order(assess_part, PARTS))
    found: list[list[bytes]] = []
    for number, answer in enumerate(in_order(assess_part, PARTS, cluster)):
        found.append(answer)
        if number == 4:
            os.kill(cluster.processes()[0], signal.SIGKILL)
    assert found == expected


def test_a_store_is_regraded_in_ranges(cluster: Cluster, url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fitcheck.bulk.parts.RECORDS", 7)
    with open_store(url) as store:
        store.keep_many(list(kept_fittings(30)))
    book = BookName("1.3.0", _digest("1.3.0"))
    parts = [part for size in (30,) for part in record_parts(size, url, RecordFilter(), book)]
    alone = [line for answer in in_order(regrade_part, parts) for line in answer]
    shared = [line for answer in in_order(regrade_part, parts, cluster) for line in answer]
    assert shared == alone
    assert [json.loads(line)["number"] for line in alone] == list(range(1, 31))


def _digest(name: str) -> str:
    from fitcheck.rulebooks.selection import book_named  # noqa: PLC0415

    return book_named(name).digest


@pytest.fixture
def away(tmp_path: Path) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """The address of a scheduler with one worker, and its process."""
    file = tmp_path / "scheduler.json"
    of_both = ("--scheduler-file", str(file), "--no-dashboard")
    command = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--port", "0", "--host", "127.0.0.1", *of_both]
    worker = [sys.executable, "-m", "distributed.cli.dask_worker", "--nthreads", "1", "--no-nanny", *of_both]
    with ExitStack() as ended:
        scheduler = ended.enter_context(subprocess.Popen(command, stderr=subprocess.DEVNULL))
        ended.callback(scheduler.kill)
        while not file.exists():
            assert scheduler.poll() is None
            time.sleep(0.05)
        serving = ended.enter_context(subprocess.Popen(worker, stderr=subprocess.DEVNULL))
        ended.callback(serving.kill)
        yield json.loads(file.read_text(encoding="utf-8"))["address"], scheduler


@pytest.mark.long
def test_with_a_lost_scheduler_nothing_is_lost(
    away: tuple[str, subprocess.Popen[bytes]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    address, scheduler = away
    monkeypatch.setattr("fitcheck.bulk.parts.LINES", 4)
    file, out, alone = (tmp_path / name for name in ("in.ndjson", "out.ndjson", "alone.ndjson"))
    file.write_bytes(b"\n".join(LINES))
    command = ["assess", "--lines", str(file), "--output"]

    def lost_half_way(*given: Any) -> Iterator[list[bytes]]:
        for number, answer in enumerate(in_order(*given)):
            if number == 5:
                scheduler.kill()
            yield answer

    with monkeypatch.context() as patched:
        patched.setattr("fitcheck.cli.assess_lines.in_order", lost_half_way)
        assert main([*command, str(out), "--cluster", address]) == 70
    assert "The scheduler of the cluster was lost" in capsys.readouterr().err
    before = told(out)
    assert 20 <= len(before) < len(LINES)
    assert main([*command, str(out), "--resume"]) == 0
    assert main([*command, str(alone)]) == 0
    assert told(out)[: len(before)] == before
    created = {"created": ""}
    assert [each["assessment"] | created for each in told(out)] == [
        each["assessment"] | created for each in told(alone)
    ]


def test_no_cluster_at_an_address_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fitcheck.bulk.cluster._JOIN_S", 1)
    with pytest.raises(ClusterLost, match=r"There is no cluster at tcp://127\.0\.0\.1:9"), Cluster("tcp://127.0.0.1:9"):
        pass


def told(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_bytes().splitlines()]


def test_the_command_goes_on_where_it_was_broken_off(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, out, whole = (tmp_path / name for name in ("in.ndjson", "out.ndjson", "whole.ndjson"))
    file.write_bytes(b"\n".join([*LINES[:20], b"{", b"", LINES[20]]))
    assert main(["assess", "--lines", str(file), "--output", str(whole)]) == 65
    assert capsys.readouterr().out == "21 assessed, 1 could not be.\n"
    out.write_bytes(b"".join(whole.read_bytes().splitlines(keepends=True)[:7]) + b'{"line":8,"asse')
    assert main(["assess", "--lines", str(file), "--output", str(out), "--resume"]) == 65
    assert [each["line"] for each in told(out)] == list(range(1, 24))
    same = ("line", "problem")
    assert [{key: each.get(key) for key in same} for each in told(out)] == [
        {key: each.get(key) for key in same} for each in told(whole)
    ]
    assert Counter(each["assessment"]["id"] for each in told(out) if "assessment" in each) == Counter(
        each["assessment"]["id"] for each in told(whole) if "assessment" in each
    )


def test_the_output_of_something_else_is_not_gone_on_with(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, out = tmp_path / "in.ndjson", tmp_path / "out.ndjson"
    file.write_bytes(LINES[0])
    out.write_text("a list of the yard\n")
    assert main(["assess", "--lines", str(file), "--output", str(out), "--resume"]) == 65
    assert "Line 1 of the output is no answer" in capsys.readouterr().err
    assert out.read_text() == "a list of the yard\n"


def test_an_output_by_another_rulebook_is_not_gone_on_with(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, out = tmp_path / "in.ndjson", tmp_path / "out.ndjson"
    file.write_bytes(LINES[0])
    assert main(["assess", "--lines", str(file), "--output", str(out), "--rulebook", "1.3.0"]) == 0
    before = out.read_bytes()
    assert main(["assess", "--lines", str(file), "--output", str(out), "--resume"]) == 65
    assert "by another rulebook" in capsys.readouterr().err
    assert out.read_bytes() == before


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--output", "x"], "--output goes with --lines"),
        (["--cluster"], "--cluster goes with --lines"),
        (["--lines", "--json"], "--json does not go with --lines"),
        (["--lines", "--resume"], "--resume needs the --output"),
    ],
)
def test_options_that_do_not_go_together_are_refused(
    options: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "in.ndjson"
    file.write_bytes(LINES[0])
    assert main(["assess", str(file), *options]) == 64
    assert said in capsys.readouterr().err


def test_parquet_files_are_read_by_their_column(tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    file = tmp_path / "feet.parquet"
    pq.write_table(pa.table({"fitting": [line.decode() for line in LINES[:3]], "yard": [1, 2, 3]}), file)
    out = tmp_path / "out.ndjson"
    assert main(["assess", "--lines", str(file), "--output", str(out)]) == 0
    assert [each["assessment"]["foot"] for each in told(out)] == [json.loads(line)["foot"] for line in LINES[:3]]
    pq.write_table(pa.table({"foot": ["x"]}), file)
    assert main(["assess", "--lines", str(file), "--output", str(out)]) == 65
    assert b'has no column "fitting"' in capfdbinary.readouterr().err


@pytest.mark.long
def test_the_command_uses_a_cluster(tmp_path: Path, cluster: Cluster) -> None:
    file, out, alone = (tmp_path / name for name in ("in.ndjson", "out.ndjson", "alone.ndjson"))
    file.write_bytes(b"\n".join(LINES))
    address = cluster._client.scheduler_info()["address"]
    assert main(["assess", "--lines", str(file), "--output", str(out), "--cluster", address]) == 0
    assert main(["assess", "--lines", str(file), "--output", str(alone)]) == 0
    assert [each["assessment"]["id"] for each in told(out)] == [each["assessment"]["id"] for each in told(alone)]
