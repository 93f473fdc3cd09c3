"""docs/service.md names what there is: each scope, setting, option, action and count."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

import pytest

from api.http.metrics import exposition
from fitcheck.cli import keys_command, serve_command
from fitcheck.records import SETTING
from fitcheck.records.keys import SCOPES
from fitcheck.settings import ServiceSettings


@pytest.fixture(scope="module")
def page(root: Path) -> str:
    return (root / "docs" / "service.md").read_text(encoding="utf-8")


def test_the_page_has_each_scope_and_no_other(page: str) -> None:
    table = page.partition("| scope |")[2].partition("\n\n")[0]
    assert re.findall(r"^\| `(\w+)` \|", table, re.MULTILINE) == list(SCOPES)


def test_the_page_has_each_setting_with_its_default(page: str) -> None:
    for name in (*ServiceSettings().as_settings(), SETTING):
        assert f"`{name}" in page
    assert f"; {ServiceSettings().rate:g}, 0 for no limit" in page
    assert f"after a rest; {ServiceSettings().burst}" in page


def test_the_page_has_each_option_of_serve_and_each_action_of_keys(page: str) -> None:
    serve, keys = argparse.ArgumentParser(), argparse.ArgumentParser()
    serve_command.configure(serve)
    keys_command.configure(keys)
    for option in re.findall(r"--[a-z-]+", serve.format_usage()):
        assert option in page or option == "--port"
    [actions] = re.findall(r"\{(.+?)\}", keys.format_usage())
    for action in actions.split(","):
        assert f"fitcheck keys {action}" in page


def test_the_page_has_each_count_and_no_other(page: str) -> None:
    counts = page.partition("## Counts")[2]
    there = set(re.findall(r"^# TYPE (\w+) (?:counter|histogram)$", exposition().decode(), re.MULTILINE))
    # The time at which a count was begun is Prometheus' own.
    assert set(re.findall(r"^\| `(\w+)`", counts, re.MULTILINE)) == there
