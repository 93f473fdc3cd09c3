"""The example client against a real service: it sends, keeps, follows, corrects, and lets go of what was erased."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from api.openapi.examples import EXAMPLES
from fitcheck.records import open_store
from tests.support.served import Served

_MOST_LINES = 120


@pytest.fixture
def records(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'records.sqlite3'}"


@pytest.fixture
def served(root: Path, tmp_path: Path, records: str) -> Iterator[Served]:
    running = Served(root, tmp_path, records)
    running.start()
    yield running
    running.kill()


@pytest.fixture
def yard(served: Served, example: Any) -> Iterator[Any]:
    """The example's client of the service."""
    with example.Yard(served.url) as opened:
        yield opened


@pytest.fixture
def example(root: Path) -> Any:
    """The example as a module."""
    spec = importlib.util.spec_from_file_location("yard_client", root / "examples" / "yard_client.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_it_sends_keeps_follows_corrects_and_lets_go_of_what_was_erased(yard: Any, records: str) -> None:
    fitting = EXAMPLES[1].fitting | {"visit": "v-1", "person": {"id": "A-1", "role": "farrier"}}
    wrong = yard.assess(fitting)
    assert wrong["decision"] == "put_right"
    assert yard.whole(wrong["id"])["findings"][0]["rule"] == wrong["findings"][0]["rule"]
    right = yard.assess(
        EXAMPLES[1].fitting | {"visit": "v-1", "person": {"id": "A-2", "role": "farrier"}}, corrects=wrong["id"]
    )
    assert [each["id"] for each in yard.current("v-1")] == [right["id"]]
    assert yard.follow() == 2
    assert set(yard.taken) == {wrong["id"], right["id"]}
    assert yard.follow() == 0
    with open_store(records) as store:
        assert store.erase("A-1", reason="Asked for.", created="2026-03-05T10:00:00.000Z") is not None
    assert yard.follow(wait_s=5) == 1
    assert set(yard.taken) == {right["id"]}


def test_what_is_wrong_is_told_field_by_field(yard: Any, example: Any) -> None:
    with pytest.raises(example.Refused, match="work: "):
        yard.assess(EXAMPLES[0].fitting | {"work": "draft"})


def test_a_service_that_is_away_is_asked_again_and_nothing_is_kept_twice(
    served: Served, yard: Any, records: str, example: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    sleeps: list[float] = []

    def back(seconds: float) -> None:
        sleeps.append(seconds)
        if len(sleeps) == 2:
            served.start()

    served.kill()
    monkeypatch.setattr(example.time, "sleep", back)
    assert yard.assess(EXAMPLES[0].fitting)["decision"] == "go_on"
    assert len(sleeps) >= 2
    with open_store(records) as store:
        assert store.head().number == 1


@pytest.mark.parametrize(("number", "status"), [(0, 0), (1, 1), (2, 1), (3, 1)])
def test_as_a_command_it_says_what_to_do(served: Served, root: Path, tmp_path: Path, number: int, status: int) -> None:
    foot = tmp_path / "foot.json"
    foot.write_text(json.dumps(EXAMPLES[number].fitting), encoding="utf-8")
    command = [sys.executable, str(root / "examples" / "yard_client.py"), served.url, str(foot)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (status, "")
    assert done.stdout.startswith(EXAMPLES[number].decision)
    assert "Nothing here is a diagnosis" in done.stdout


def test_it_is_short(root: Path) -> None:
    assert len((root / "examples" / "yard_client.py").read_text(encoding="utf-8").splitlines()) < _MOST_LINES
