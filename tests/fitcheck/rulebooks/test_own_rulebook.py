"""A yard's own book at the command line and in the service: the same folder judges, and every answer names it."""

from __future__ import annotations

import asyncio
import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.application import create_app
from fitcheck.cli import main
from fitcheck.rulebooks.selection import SETTING, book_named
from rules import RulebookError, load_rulebook, shipped_rulebook
from rules.model.records import Scaled
from tests.support.paths import ROOT
from tests.support.yard_books import IDENTITY, THICKER_IRON, yard_folder

CASES = ROOT / "cases_demo"
YARD = str(CASES / "yard_book")
BOOK = load_rulebook(CASES / "yard_book")
SHIPPED = shipped_rulebook()
LATE = str(CASES / "full-heels-late.json")
GENEROUS = str(CASES / "yard_book" / "generous-heel.json")
STARTS_WITHIN_S = 30.0
Captured = pytest.CaptureFixture[str]


@pytest.fixture
def faulty(tmp_path: Path) -> str:
    """A yard's book with a limit that names no source of its own."""
    text = (CASES / "yard_book" / "book.toml").read_text(encoding="utf-8")
    (tmp_path / "book.toml").write_text(text, encoding="utf-8")
    (tmp_path / "heel_fit.toml").write_text("[rules.heel-width-wide]\nhigh = 4.0\n", encoding="utf-8")
    return str(tmp_path)


# The sample book.


def test_the_sample_book_is_what_its_comments_say() -> None:
    assert (BOOK.id, BOOK.inherits) == ("low-meadow", f"shipped {SHIPPED.version}")
    wide, shipped = BOOK.rules["heel-width-wide-full"].high, SHIPPED.rules["heel-width-wide-full"].high
    assert isinstance(wide, float)
    assert isinstance(shipped, Scaled)
    assert (shipped.times, shipped.of) == (1.0, "width_allowance")
    assert wide > shipped.plus, "a little fuller heels"
    assert BOOK.rules["heel-width-tight"].action["hot_fit"] != SHIPPED.rules["heel-width-tight"].action["hot_fit"]
    assert [BOOK.rules[name].high for name in ("interval-long", "interval-overdue")] == [35.0, 49.0]
    assert set(BOOK.off) == {"heel-seen-wide"}, "what the eye calls wide is right there"


def test_the_readme_shows_the_sample_book_as_it_is() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r"```toml\n(.+?)\n```", readme, re.DOTALL)
    files = "\n".join(path.read_text(encoding="utf-8") for path in sorted(Path(YARD).glob("*.toml")))
    assert len(shown) == 2
    assert all(block in files for block in shown)


def test_the_sample_book_stands_the_whole_analysis(capsys: Captured) -> None:
    assert main(["rules", "check", YARD]) == 0
    assert BOOK.digest in capsys.readouterr().out


# The command.


def test_assess_judges_by_the_book_that_is_named(capsys: Captured) -> None:
    assert main(["assess", LATE]) == 0
    assert main(["assess", "--rulebook", YARD, LATE]) == 1
    assert "Judged by Low Meadow's fitting rules, 1.0.0." in " ".join(capsys.readouterr().out.split())


def test_an_assessment_names_the_book_by_id_title_version_and_digest(capsys: Captured) -> None:
    assert main(["assess", "--json", "--rulebook", YARD, LATE]) == 1
    assert json.loads(capsys.readouterr().out)["rulebook"] == {
        "id": "low-meadow",
        "title": BOOK.title,
        "version": "1.0.0",
        "digest": BOOK.digest,
    }


def test_a_word_of_the_eye_that_the_book_lets_pass_is_noted_by_the_shipped_one_alone(capsys: Captured) -> None:
    noted = "Medial heel, by eye: wide."
    assert main(["assess", "--rulebook", YARD, GENEROUS]) == 0
    assert noted not in capsys.readouterr().out
    assert main(["assess", GENEROUS]) == 0
    assert noted in capsys.readouterr().out


def test_the_explanation_is_by_the_book_too(capsys: Captured) -> None:
    assert main(["assess", "--explain", "--rulebook", YARD, LATE]) == 1
    assert "49 days" in capsys.readouterr().out


def test_ranges_of_the_book_are_those_that_readings_are_held_against(tmp_path: Path, capsys: Captured) -> None:
    assert main(["assess", "--rulebook", str(yard_folder(tmp_path, IDENTITY, dimensions=THICKER_IRON)), LATE]) == 65
    assert "Allowed: 14 to 30 mm" in capsys.readouterr().err


def test_the_setting_names_the_book_where_the_option_does_not(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.setenv(SETTING, YARD)
    assert main(["assess", LATE]) == 1
    assert main(["assess", "--rulebook", "shipped", LATE]) == 0
    monkeypatch.setenv(SETTING, "")
    assert main(["assess", LATE]) == 0
    assert capsys.readouterr().out.count("Low Meadow's fitting rules") == 1


@pytest.mark.parametrize(
    "words",
    [
        ["assess", LATE, "--rulebook"],
        ["demo", "--rulebook"],
        ["serve", "--rulebook"],
        ["rules", "list", "--rulebook"],
        ["rules", "show", "heel-long", "--rulebook"],
        ["rules", "diff", "shipped"],
    ],
)
def test_a_faulty_book_is_bad_input_with_folder_file_and_key(words: list[str], faulty: str, capsys: Captured) -> None:
    assert main([*words, faulty]) == 65
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(f"{faulty}: heel_fit.toml: rules.heel-width-wide.status: ")
    assert "Traceback" not in said.err


def test_rules_of_the_book_are_listed_and_shown(tmp_path: Path, capsys: Captured) -> None:
    assert main(["rules", "show", "--rulebook", YARD, "heel-width-wide-full"]) == 0
    said = capsys.readouterr().out
    assert "above 8 mm" in said
    assert "[LM]" in said
    (tmp_path / "book.toml").write_text((CASES / "yard_book" / "book.toml").read_text(), encoding="utf-8")
    (tmp_path / "heel_fit.toml").write_text('[rules.heel-long]\noff = true\nbasis = "We like length."\n')
    assert main(["rules", "list", "--rulebook", str(tmp_path)]) == 0
    assert main(["rules", "show", "--rulebook", str(tmp_path), "heel-long"]) == 0
    said = capsys.readouterr().out
    assert re.search(r"^heel-long +switched off: We like length\.$", said, re.MULTILINE)
    assert "heel-long is switched off in" in said


# Difference and comparison.


def test_diff_tells_what_differs_with_status_1_and_nothing_with_0(capsys: Captured) -> None:
    assert main(["rules", "diff", "shipped", YARD]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "heel-width-wide-full: fires above 8 mm, was above allowance for turned-in heels + 6.35 mm" in said
    assert main(["rules", "diff", YARD, YARD]) == 0
    assert "No difference." in capsys.readouterr().out
    assert main(["rules", "diff", "shipped", str(ROOT / "rules" / "book")]) == 0


def test_diff_as_json_is_one_document(capsys: Captured) -> None:
    assert main(["rules", "diff", "--json", "shipped", YARD]) == 1
    document = json.loads(capsys.readouterr().out)
    assert document["after"] == {
        "id": "low-meadow",
        "title": BOOK.title,
        "version": "1.0.0",
        "digest": BOOK.digest,
        "inherits": f"shipped {SHIPPED.version}",
    }
    (wide,) = [change for change in document["changes"] if change["name"] == "heel-width-wide-full"]
    shipped = {"times": 1.0, "of": "width_allowance", "plus": 6.35}
    assert {"key": "high", "before": shipped, "after": 8.0} in wide["keys"]


def test_compare_says_which_decisions_change_and_why(capsys: Captured) -> None:
    assert main(["rules", "compare", "shipped", YARD, LATE, str(CASES / "flinch.json")]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "full-heels-late.json: put right, was release" in said
    assert "why: interval-overdue: fires above 49 days, was above 56 days" in said
    assert "flinch.json: stop and refer as before" in said
    assert "2 fittings: 1 decision changes (release to put right: 1)" in said


def test_compare_is_0_where_no_decision_changes_although_findings_do(capsys: Captured) -> None:
    assert main(["rules", "compare", "shipped", YARD, str(CASES / "good-draught-fore.json")]) == 0
    assert re.search(r"new: +interval-long at the foot", capsys.readouterr().out)


def test_compare_as_json_is_one_document(capsys: Captured) -> None:
    assert main(["rules", "compare", "--json", "shipped", YARD, LATE, GENEROUS]) == 1
    document = json.loads(capsys.readouterr().out)
    assert document["summary"]["decisions_changed"] == 1
    assert [case["decision"] for case in document["cases"]] == [
        {"before": "release", "after": "put_right"},
        {"before": "release", "after": "release"},
    ]
    assert {each["name"] for each in document["cases"][0]["why"]} >= {"interval-overdue", "heel-width-wide-full"}
    assert {each["name"] for each in document["cases"][1]["why"]} == {"heel-seen-wide", "interval-long"}


def test_compare_refuses_what_neither_book_takes_and_still_compares_the_rest(tmp_path: Path, capsys: Captured) -> None:
    bad = tmp_path / "bad.json"
    bad.write_text("{}", encoding="utf-8")
    assert main(["rules", "compare", "shipped", YARD, str(bad), LATE]) == 65
    said = capsys.readouterr()
    assert "bad.json: foot:" in said.err
    assert "1 fitting: 1 decision changes" in said.out


@pytest.mark.parametrize("words", [["diff", "shipped"], ["compare", "shipped", YARD], ["diff", "a", "b", "c"]])
def test_bad_usage_is_64(words: list[str], capsys: Captured) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["rules", *words])
    assert caught.value.code == 64
    assert "usage:" in capsys.readouterr().err


# The service.

Asked = Callable[..., httpx.Response]


def ask(method: str, path: str, **request: Any) -> httpx.Response:
    """One request to an application that is made now."""

    async def send() -> httpx.Response:
        transport = httpx.ASGITransport(app=create_app())
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            return await client.request(method, path, **request)

    return asyncio.run(send())


def test_the_service_judges_by_the_book_of_the_setting(monkeypatch: pytest.MonkeyPatch) -> None:
    late, generous = (json.loads(Path(name).read_text(encoding="utf-8")) for name in (LATE, GENEROUS))
    assert ask("POST", "/v1/assessments?keep=false", json=late).json()["rulebook"]["digest"] == SHIPPED.digest
    noted = "heel-seen-wide@medial_heel"
    assert noted in found(ask("POST", "/v1/assessments?keep=false", json=generous))
    monkeypatch.setenv(SETTING, YARD)
    answer = ask("POST", "/v1/assessments?keep=false", json=late).json()
    assert (answer["decision"], answer["rulebook"]["digest"]) == ("put_right", BOOK.digest)
    assert noted not in found(ask("POST", "/v1/assessments?keep=false", json=generous))
    shown = ask("GET", "/v1/rulebook").json()
    assert (shown["id"], shown["digest"], shown["inherits"]) == ("low-meadow", BOOK.digest, BOOK.inherits)
    assert [each["id"] for each in shown["switched_off"]] == ["heel-seen-wide"]


def found(answer: httpx.Response) -> set[str]:
    """What was found, by rule and place."""
    return {f"{each['rule']}@{each['place']}" for each in answer.json()["findings"]}


def test_the_reference_has_the_ranges_of_the_book_that_judges(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def thickness() -> str:
        schema = ask("GET", "/openapi.json").json()["components"]["schemas"]["Shoe"]["properties"]["thickness"]
        return str(schema["anyOf"][0]["description"])

    assert "In mm, from 3 to 30;" in thickness()
    monkeypatch.setenv(SETTING, str(yard_folder(tmp_path, IDENTITY, dimensions=THICKER_IRON)))
    assert "In mm, from 14 to 30;" in thickness()


def test_examples_of_the_reference_are_answered_by_the_book_that_judges(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SETTING, YARD)
    document = ask("GET", "/openapi.json").json()
    answers = document["paths"]["/v1/assessments"]["post"]["responses"]["200"]["content"]["application/json"]
    assert {each["value"]["rulebook"]["id"] for each in answers["examples"].values()} == {"low-meadow"}


def test_a_rule_that_is_switched_off_is_told_as_such(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "book.toml").write_text((CASES / "yard_book" / "book.toml").read_text(), encoding="utf-8")
    (tmp_path / "heel_fit.toml").write_text('[rules.heel-long]\noff = true\nbasis = "We like length."\n')
    monkeypatch.setenv(SETTING, str(tmp_path))
    assert ask("GET", "/v1/rulebook").json()["switched_off"] == [{"id": "heel-long", "basis": "We like length."}]
    answer = ask("GET", "/v1/rulebook/rules/heel-long")
    assert answer.status_code == 404
    assert "switched off in this rulebook: We like length." in answer.json()["detail"]


def test_a_service_does_not_start_with_a_faulty_book(faulty: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SETTING, faulty)
    with pytest.raises(RulebookError, match=r"rules\.heel-width-wide\.status"):
        create_app()
    with pytest.raises(RulebookError):
        book_named()


def test_the_demo_goes_by_the_book_through_a_real_server(capsys: Captured) -> None:
    assert main(["demo", "full-heels-late", "--rulebook", YARD]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "PUT RIGHT" in said
    assert "Judged by Low Meadow's fitting rules, 1.0.0." in said
    assert SETTING not in os.environ


@contextmanager
def serving(log: Path, *words: str) -> Iterator[str]:
    """The address of ``fitcheck serve`` in a process of its own."""
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path]), "NO_COLOR": "1"}
    command = [sys.executable, "-m", "fitcheck", "serve", "--port", "0", *words]
    with (
        log.open("wb") as output,
        subprocess.Popen(command, cwd=log.parent, env=environment, stdout=output, stderr=output) as process,
    ):
        try:
            patience = time.monotonic() + STARTS_WITHIN_S
            while not (started := re.search(r"running on (http://127\.0\.0\.1:\d+)", log.read_text())):
                assert process.poll() is None, log.read_text()
                assert time.monotonic() < patience, log.read_text()
                time.sleep(0.02)
            yield started[1]
        finally:
            process.terminate()
            process.wait(STARTS_WITHIN_S)


@pytest.mark.parametrize("workers", ["1", "2"])
def test_serve_passes_the_book_on_to_each_server_process(workers: str, tmp_path: Path) -> None:
    """The folder is named relative to where the command is called."""
    named = os.path.relpath(YARD, tmp_path)
    with serving(tmp_path / "log", "--rulebook", named, "--workers", workers) as address:
        patience = time.monotonic() + STARTS_WITHIN_S
        digests = set[str]()
        while len(digests) == 0:
            try:
                digests = {httpx.get(f"{address}/v1/rulebook").json()["digest"] for _ in range(12)}
            except httpx.TransportError:
                assert time.monotonic() < patience
                time.sleep(0.05)
    assert digests == {BOOK.digest}
