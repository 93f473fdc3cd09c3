"""What all commands share: a misspelt word gets a hint, and a fault of the tool never ends in a status of a foot."""

from __future__ import annotations

import argparse

import pytest

from fitcheck.cli import BAD_USAGE, FAILED, demo_command, main, rules_command


@pytest.mark.parametrize(
    ("words", "meant"),
    [(["asses", "foot.json"], "assess"), (["rules", "chek"], "check"), (["records", "exprot"], "export")],
)
def test_a_misspelt_word_gets_the_one_that_was_meant(
    words: list[str], meant: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        main(words)
    assert caught.value.code == BAD_USAGE
    assert f"Did you mean {meant!r}?" in capsys.readouterr().err


def test_a_word_that_is_near_none_gets_no_hint(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["xyzzy"])
    assert "Did you mean" not in capsys.readouterr().err


def test_a_fault_of_the_tool_is_told_and_ends_in_70(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(_options: argparse.Namespace) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(rules_command, "chosen_book", fails)
    assert main(["rules", "list"]) == FAILED
    said = capsys.readouterr().err
    assert "ZeroDivisionError" in said
    assert "a fault of the tool itself" in said


def test_a_demo_whose_service_does_not_start_ends_in_70(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo_command, "_STARTS_WITHIN_S", -1.0)
    assert main(["demo"]) == FAILED
