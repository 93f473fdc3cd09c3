"""Every sub-command that tells a farrier or an assessor something tells it in the language that is asked for."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from typing import Final

import pytest

from fitcheck.cli import BAD_INPUT, main, whole_parser
from tests.support.paths import ROOT

IN_ENGLISH: Final = {
    "serve": "each request names its language; FITCHECK_LANGUAGE is for those that name none",
    "completion": "a script for a shell",
    "keys *": "for whoever runs the service, as its log and its errors",
    "records *": "for whoever keeps the store, as its errors",
    "rules check": "faults of a book, as all errors",
    "rules new": "a book to begin with, whose keys are English",
}
"""Sub-commands without the option, and why; * is all of a command that do not have it."""
CASES: Final = ROOT / "cases_demo"
Captured = pytest.CaptureFixture[str]


def sub_commands(parser: argparse.ArgumentParser, *above: str) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Each sub-command that has none below it, by its words."""
    below = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    if not below:
        yield " ".join(above), parser
    for action in below:
        for name, each in action.choices.items():
            yield from sub_commands(each, *above, name)


ALL: Final = dict(sub_commands(whole_parser()))
TAKING: Final = {name for name, parser in ALL.items() if "--language" in parser.format_help()}


def test_every_sub_command_takes_a_language_or_says_why_not() -> None:
    assert len(ALL) > 25
    excepted = {
        name
        for name in ALL
        if name not in TAKING and (name in IN_ENGLISH or f"{name.partition(' ')[0]} *" in IN_ENGLISH)
    }
    assert set(ALL) - TAKING == excepted
    assert not TAKING & IN_ENGLISH.keys()
    used = {name if name in IN_ENGLISH else f"{name.partition(' ')[0]} *" for name in excepted}
    assert used == set(IN_ENGLISH)


RUN: Final = {
    "assess": ["assess", str(CASES / "flinch.json")],
    "marks": ["marks", str(CASES / "flinch.json")],
    "report": ["report", str(CASES / "flinch.json")],
    "rules list": ["rules", "list"],
    "rules show": ["rules", "show", "heel-width-tight"],
    "rules page": ["rules", "page"],
    "rules diff": ["rules", "diff", "shipped", str(CASES / "yard_book")],
    "rules compare": ["rules", "compare", "shipped", str(CASES / "yard_book"), str(CASES / "full-heels-late.json")],
}
GERMAN: Final = {
    "assess": "EINHALTEN",
    "marks": "Punkte",
    "report": "Huf",
    "rules list": "schwer",
    "rules show": "Befund ",
    "rules page": "Wie diese Seite zu lesen ist",
    "rules diff": "spricht an über",
    "rules compare": "Entscheidung ändert sich",
}


@pytest.mark.parametrize("name", RUN)
def test_it_is_told_in_german(name: str, capsys: Captured) -> None:
    main([*RUN[name], "--language", "de"])
    german = capsys.readouterr().out
    assert GERMAN[name] in german
    main([*RUN[name], "--language", "en"])
    english = capsys.readouterr().out
    assert GERMAN[name] not in english
    main(RUN[name])
    assert timeless(capsys.readouterr().out) == timeless(english)


def timeless(printed: str) -> str:
    """The same without the time and the id of the assessment."""
    return re.sub(r"[-\d]+T[:.\d]+Z|[0-9a-f]{8}-[-0-9a-f]{27}", "", printed)


@pytest.mark.parametrize("name", RUN)
def test_a_language_that_there_is_not_is_refused(name: str, capsys: Captured) -> None:
    assert main([*RUN[name], "--language", "xx"]) == BAD_INPUT
    said = capsys.readouterr()
    assert "xx" in said.err
    assert said.out == ""


def test_no_english_is_left_in_what_differs_between_two_books(capsys: Captured) -> None:
    main([*RUN["rules diff"], "--language", "de"])
    # What stands in quotes are texts of the yard, which wrote its book in English.
    said = re.sub(r'"[^"]*"', "", " ".join(capsys.readouterr().out.split()))
    german = set(re.findall(r"\w+", said))
    assert not german & {"fires", "was", "above", "below", "changed", "added", "published", "common", "why", "days"}
