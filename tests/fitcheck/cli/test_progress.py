"""How far a long work has come: on a terminal's standard error alone, in figures; what is piped has nothing of it."""

from __future__ import annotations

import json
import os
import pty
import re
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from fitcheck.cli import main
from fitcheck.cli import progress as progress_of_works
from fitcheck.cli.progress import Counted, Progress
from fitcheck.records import open_store
from fitcheck.stored import regrade
from rules import analysis
from tests.support.kept_fittings import kept_fittings
from tests.support.paths import ROOT

FEET = 12
FIGURES = re.compile(r"([\d.]+)k?/([\d.]+)k? \[\d\d:\d\d<(?:\d\d:\d\d|\?), +(?:\?|[\d.]+k?)(?: ?\w+/s|s/ ?\w+)")
"""Done, of how many, time taken, time left, and rate."""
Captured = pytest.CaptureFixture[str]


def figures(said: str) -> list[tuple[float, float]]:
    """Each time that it was told how far it has come: done, and of how many."""
    return [(float(done), float(total)) for done, total in FIGURES.findall(said)]


@contextmanager
def on_a_terminal() -> Iterator[list[str]]:
    """For as long as the block runs, standard error is a terminal; what was written there is in the list afterwards."""
    screen, its_end = pty.openpty()
    parts: list[bytes] = []
    said: list[str] = []

    def read() -> None:
        try:
            while part := os.read(screen, 65536):
                parts.append(part)
        except OSError:
            # Linux tells by an error that nobody has the other end any more.
            pass

    reader = threading.Thread(target=read)
    reader.start()
    with pytest.MonkeyPatch.context() as patch, open(its_end, "w", encoding="utf-8") as stream:  # noqa: PTH123
        patch.setattr("sys.stderr", stream)
        yield said
    reader.join()
    os.close(screen)
    said.append(b"".join(parts).decode())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a store, an export and a backup of it, and fittings as lines."""
    folder = tmp_path_factory.mktemp("kept")
    store = f"sqlite:///{folder}/records.db"
    with closing(open_store(store)) as opened:
        opened.keep_many([replace(each, person="P-1") for each in kept_fittings(FEET)])
    assert main(["records", "export", "--output", str(folder / "all.ndjson"), "--records", store]) == 0
    assert main(["records", "backup", str(folder / "saved.db"), "--records", store]) == 0
    foot = json.dumps(json.loads((ROOT / "cases_demo" / "good-draught-fore.json").read_bytes()))
    (folder / "lines.ndjson").write_text(f"{foot}\n" * FEET, encoding="utf-8")
    return folder


HERE = "--records sqlite:///FOLDER/records.db"
WORKS = {
    "verify": f"records verify {HERE}",
    "export": f"records export --output FOLDER/out.ndjson {HERE}",
    "import": "records import FOLDER/all.ndjson --records sqlite:///FOLDER/import-TIME.db",
    "backup": f"records backup FOLDER/backup.db {HERE}",
    "restore": "records restore FOLDER/saved.db --records sqlite:///FOLDER/restore-TIME.db",
    "regrade": f"regrade --json {HERE}",
    "lines": "assess --lines FOLDER/lines.ndjson --output FOLDER/out.ndjson",
    "compare": f"rules compare shipped 1.3.0 {ROOT}/cases_demo/flinch.json {ROOT}/cases_demo/high-nail.json",
    "progress": f"people progress P-1 {HERE}",
    "check": "rules check",
}
"""Each long work; short here, and therefore asked to tell how far it has come."""


def words_of(work: str, folder: Path, time: str) -> list[str]:
    return WORKS[work].replace("FOLDER", str(folder)).replace("TIME", time).split()


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """The analysis of a book finds nothing here, and takes no time for it."""
    for name in ("interval_sets", "known", "unfed_limits", "bands", "gaps", "reach", "amounts", "never_joined"):
        monkeypatch.setattr(analysis, name, lambda *_: ())


@pytest.mark.parametrize("work", WORKS)
def test_a_long_work_tells_how_far_it_has_come_and_prints_the_same(work: str, folder: Path, capsys: Captured) -> None:
    main(words_of(work, folder, "piped"))
    quietly = capsys.readouterr()
    assert figures(quietly.err) == []
    with on_a_terminal() as said:
        main([*words_of(work, folder, "shown"), "--progress"])
    printed = capsys.readouterr().out
    told = figures(said[0])
    assert "\\u" not in said[0]
    assert told, said
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1] > 0, said
    assert (timeless(printed), "\r" in printed) == (timeless(quietly.out), False)


def timeless(printed: str) -> str:
    """The same without what differs from one run to the next."""
    return re.sub(r'"(created|id)": ?"[^"]*"', "", printed)


def test_a_terminal_is_told_unasked_of_what_takes_a_while_and_a_pipe_is_not(
    folder: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    slowly(monkeypatch, regrade.Regrading, "_one", 0.01)
    monkeypatch.setattr(progress_of_works, "_WAITS_S", 0.05)
    monkeypatch.setattr(progress_of_works, "_EVERY_S", 0.0)
    with on_a_terminal() as said:
        main(words_of("regrade", folder, ""))
    told = figures(said[0])
    assert len(told) > 2
    assert {total for _, total in told} == {FEET}
    assert "\r" not in capsys.readouterr().out
    main(words_of("regrade", folder, ""))
    assert figures(capsys.readouterr().err) == []


def slowly(patch: pytest.MonkeyPatch, of: type, name: str, seconds: float) -> None:
    """Each call of the method takes so much longer."""
    work: Callable[..., object] = getattr(of, name)

    def slow(*arguments: object) -> object:
        threading.Event().wait(seconds)
        return work(*arguments)

    patch.setattr(of, name, slow)


def test_a_terminal_is_told_nothing_of_what_is_soon_done_nor_where_that_is_not_wanted(folder: Path) -> None:
    with on_a_terminal() as said:
        main(words_of("verify", folder, ""))
    assert said == [""]
    with on_a_terminal() as said, pytest.MonkeyPatch.context() as patch:
        patch.setattr(progress_of_works, "_WAITS_S", 0.0)
        main([*words_of("verify", folder, ""), "--no-progress"])
    assert said == [""]


def test_what_is_not_piped_shows_by_itself_how_far_it_has_come(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress_of_works, "_WAITS_S", 0.0)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    with on_a_terminal() as said:
        main(words_of("regrade", folder, ""))
    assert figures(said[0]) == []


def test_a_pipe_is_told_where_it_is_asked_for(folder: Path, capsys: Captured) -> None:
    main([*words_of("verify", folder, ""), "--progress"])
    assert figures(capsys.readouterr().err)[-1] == (FEET, FEET)


def test_bytes_that_are_read_are_counted(tmp_path: Path) -> None:
    class Bar:
        n = 0

        def update(self, count: int) -> None:
            self.n += count

    bar = Bar()
    (tmp_path / "file").write_bytes(b"x" * 100_000)
    with (tmp_path / "file").open("rb") as stream:
        assert len(Counted(stream, Progress(bar)).readall()) == 100_000
    assert bar.n == 100_000
