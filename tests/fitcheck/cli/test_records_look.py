"""``records list``, ``records show`` and ``people progress``: what is kept, to be read where no service runs."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from fitcheck import assess, parse_fitting
from fitcheck.cli import main
from fitcheck.records import Store, draft_of
from fitcheck.stored.assessment import foot_of
from rules import load_rulebook, shipped_rulebook
from tests.support.kept_fittings import demo_bodies
from tests.support.own_quantities import OWN_BOOK, OWN_FINISH, OWN_SOURCES
from tests.support.yard_books import yard_folder

Captured = pytest.CaptureFixture[str]
Run = Callable[..., int]


def test_the_newest_records_are_listed_and_one_is_shown(yard: Store, run: Run, capsys: Captured) -> None:
    assert run("list", "--most", "2", "--json") == 0
    listed = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    head = yard.head().number
    assert [each["number"] for each in listed] == [head, head - 1]
    assert run("list") == 0
    assert len(capsys.readouterr().out.splitlines()) == head
    assert run("show", listed[0]["id"]) == 0
    shown = capsys.readouterr().out
    assert "Judged by" in shown
    assert run("show", listed[0]["id"], "--language", "de") == 0
    assert "Judged by" not in capsys.readouterr().out
    assert run("show", listed[0]["id"], "--json") == 0
    assert json.loads(capsys.readouterr().out)["id"] == listed[0]["id"]


def test_what_is_not_there_is_said(yard: Store, run: Run, capsys: Captured) -> None:
    assert yard.head().number
    assert run("show", "nothing") == 1
    assert "is not kept here" in capsys.readouterr().err
    assert run("list", "--horse", "nothing") == 1
    assert capsys.readouterr().out == ""
    with pytest.raises(SystemExit):
        run("list", "--most", "0")


def test_a_persons_progress_is_told(yard: Store, capsys: Captured) -> None:
    book = shipped_rulebook()
    for number, body in enumerate(demo_bodies()[:3]):
        document = json.loads(body) | {"person": {"id": "P-7", "role": "apprentice"}, "visit": f"V-{number}"}
        fitting = parse_fitting(document, book)
        yard.keep(draft_of(json.dumps(document).encode(), fitting, assess(fitting, book)))
    address = yard._engine.url.render_as_string(hide_password=False)
    words = ["people", "progress", "P-7", "--records", address]
    assert main([*words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["assessments"] == 3
    assert main(words) == 0
    said = capsys.readouterr().out
    assert found["criteria"][0]["title"].lower() in said.lower()
    assert main([*words, "--language", "de"]) == 0
    assert capsys.readouterr().out != said
    assert main(["people", "progress", "P-8", "--records", address]) == 1


def test_what_was_kept_with_a_books_own_quantities_is_shown_without_that_book(
    yard: Store, run: Run, capsys: Captured, tmp_path: Path
) -> None:
    (tmp_path / "book").mkdir()
    book = load_rulebook(yard_folder(tmp_path / "book", OWN_BOOK, sources=OWN_SOURCES, finish=OWN_FINISH))
    document = json.loads(demo_bodies()[0])
    document["stage"] = "finished"
    document["observations"]["own"] = {"polish": {"foot": "rusty"}}
    fitting = parse_fitting(document, book)
    draft = draft_of(json.dumps(document).encode(), fitting, assess(fitting, book))
    record = yard.keep(draft).record
    assert foot_of(record, shipped_rulebook()).fitting.foot == fitting.foot
    assert foot_of(record, book).fitting == fitting
    assert run("show", record.id, "--rulebook", str(tmp_path / "book")) == 0
    assert "The shoe is rusty" in capsys.readouterr().out
