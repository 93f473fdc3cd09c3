"""Every option of ``fitcheck serve`` by the environment: as the table of docs/service.md says, and an option wins."""

from __future__ import annotations

import os
import re
from typing import Final

import pytest

from fitcheck.cli import BAD_USAGE, main, whole_parser
from fitcheck.settings import ServiceSettings
from tests.support.paths import ROOT

SETTINGS: Final = {
    "host": ("FITCHECK_HOST", "::1", "::1"),
    "port": ("FITCHECK_PORT", "8443", 8443),
    "workers": ("FITCHECK_WORKERS", "3", 3),
    "trust_proxy": ("FITCHECK_TRUST_PROXY", "10.1.0.0/16,127.0.0.1", "10.1.0.0/16,127.0.0.1"),
}
"""Those that the command reads itself: what is set, and what comes of it."""
ELSEWHERE: Final = {
    "--keys-required": "FITCHECK_KEYS=required",
    "--rate": "FITCHECK_RATE",
    "--behind-tls": "FITCHECK_BEHIND_TLS=yes",
    "--rank-eyes": "FITCHECK_RANK_EYES=yes",
    "--records": "FITCHECK_RECORDS",
    "--rulebook": "FITCHECK_RULEBOOK",
}
"""Those that are read where they are used, with tests there."""


def test_every_option_has_its_setting_in_the_table() -> None:
    text = (ROOT / "docs" / "service.md").read_text(encoding="utf-8")
    table = dict(re.findall(r"^\| `(--[a-z-]+)[^`]*` \| `([^`]+)` \|", text, re.MULTILINE))
    known = {f"--{name.replace('_', '-')}": setting for name, (setting, *_) in SETTINGS.items()} | ELSEWHERE
    assert table == known
    serve = whole_parser()._subparsers._group_actions[0].choices["serve"]  # type: ignore[union-attr, index]
    options = {word for action in serve._actions for word in action.option_strings if word.startswith("--")}
    assert options - {"--help"} == set(known)


@pytest.mark.parametrize("name", SETTINGS)
def test_the_environment_stands_for_an_option_that_is_not_given(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    setting, text, value = SETTINGS[name]
    without = getattr(whole_parser().parse_args(["serve"]), name)
    monkeypatch.setenv(setting, text)
    assert getattr(whole_parser().parse_args(["serve"]), name) == value != without
    given = "1" if isinstance(value, int) else "192.0.2.1"
    said = getattr(whole_parser().parse_args(["serve", f"--{name.replace('_', '-')}", given]), name)
    assert said == (1 if isinstance(value, int) else given)


@pytest.mark.parametrize(
    ("options", "environment", "expected"),
    [([], None, "no"), (["--rank-eyes"], None, "yes"), ([], "yes", "yes"), (["--rank-eyes"], "no", "yes")],
)
def test_a_school_may_have_eyes_ranked(
    options: list[str], environment: str | None, expected: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the server processes read while they run."""
    seen: list[str | None] = []
    monkeypatch.setattr("uvicorn.run", lambda *_, **__: seen.append(os.environ.get("FITCHECK_RANK_EYES")))
    if environment is None:
        monkeypatch.delenv("FITCHECK_RANK_EYES", raising=False)
    else:
        monkeypatch.setenv("FITCHECK_RANK_EYES", environment)
    assert main(["serve", *options]) == 0
    assert seen == [expected]


@pytest.mark.parametrize("name", ["port", "workers", "trust_proxy"])
def test_a_setting_that_makes_no_sense_is_told_by_its_name(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv(SETTINGS[name][0], "-1")
    with pytest.raises(SystemExit) as caught:
        whole_parser().parse_args(["serve"])
    assert caught.value.code == BAD_USAGE
    assert SETTINGS[name][0] in capsys.readouterr().err


def test_the_other_settings_are_those_of_the_service() -> None:
    assert ServiceSettings().as_settings().keys() >= {
        setting.partition("=")[0]
        for setting in ELSEWHERE.values()
        if "RECORDS" not in setting and "RULEB" not in setting
    }
