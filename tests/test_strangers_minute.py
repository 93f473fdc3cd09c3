"""A stranger adds a quantity in the places that DEVELOPERS.md names, and it comes out of every door of the tool."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from fitcheck.errors import BadInput
from fitcheck.fitting.validation import parse_fitting
from tests.support.new_quantity import EDITS, HEADINGS, LIMIT, PATH, QUANTITY, RULE, SAID, add, copied, run, touched
from tests.support.paths import CASES, ROOT
from tests.support.served import Served

BIN = Path(sys.executable).parent
LABELS = {
    "en": "Depth of the dressed sole below the bearing edge: 0.5 ± 0.5 mm.",
    "de": "Tiefe der zubereiteten Sohle unter dem Tragrand: 0,5 ± 0,5 mm.",
}
GENERATED = (
    "docs/rulebook.md",
    "docs/fields.md",
    "rules/loading/checked.py",
    "api/openapi/answers.json",
    "api/page/static/js/observables.js",
    "api/page/static/messages/en.json",
    "api/page/static/messages/de.json",
)


@pytest.fixture(scope="module")
def refreshed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """The copy with the new quantity, and what `.ci/refresh` says that it made anew."""
    copy = copied(tmp_path_factory.mktemp("stranger") / "house")
    add(copy)
    return copy, run(copy, ".ci/refresh", str(BIN)).split()


@pytest.fixture(scope="module")
def house(refreshed: tuple[Path, list[str]]) -> Path:
    return refreshed[0]


@pytest.fixture(scope="module")
def fitting() -> dict[str, Any]:
    """A good foot, but for the new reading."""
    good: dict[str, Any] = json.loads((CASES / "good-draught-fore.json").read_text(encoding="utf-8"))
    part, _, name = PATH.partition(".")
    good[part][name] = 0.5
    return good


@pytest.fixture(scope="module")
def served(house: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    folder = tmp_path_factory.mktemp("served")
    with (
        Served(house, folder, f"sqlite:///{folder / 'records.sqlite3'}") as service,
        httpx.Client(base_url=service.url, timeout=30) as client,
    ):
        yield client


def assert_found(answer: dict[str, Any], language: str) -> None:
    """The one finding of the foot, whose decision it changes."""
    [finding] = answer["findings"]
    assert (finding["rule"], finding["place"], finding["finding"]) == (RULE, "sole", SAID[language])
    assert finding["measured"] == {"quantity": QUANTITY, "value": 0.5, "u": 0.5, "unit": "mm", "where": None}
    assert finding["limit"]["low"] == LIMIT
    assert answer["decision"] == "put_right"
    assert finding["action"] in answer["actions"]
    assert QUANTITY in {each["quantity"] for each in answer["measurements"]}


def test_the_tool_as_it_stands_does_not_know_the_quantity(fitting: dict[str, Any]) -> None:
    with pytest.raises(BadInput) as raised:
        parse_fitting(fitting)
    assert [problem.field for problem in raised.value.problems] == [PATH]


def test_just_the_places_are_touched_that_developers_md_names() -> None:
    rows = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()
    [row] = [row for row in rows if row.startswith("| quantity |")]
    named = re.findall(r"`([^`]+)`", row)
    for place in named:
        assert (ROOT / place).exists(), place
        assert any(edit.file.startswith(place) for edit in EDITS), f"{place} is named, and nothing is added there"
    strays = {edit.file for edit in EDITS if not edit.file.startswith(tuple(named))}
    assert strays == set()


def test_nothing_else_differs_but_what_is_generated(refreshed: tuple[Path, list[str]]) -> None:
    copy, made = refreshed
    assert touched(copy) == {edit.file for edit in EDITS} | set(made)
    assert set(GENERATED) <= set(made)
    assert {Path(name).parent.as_posix() for name in made if name not in GENERATED} <= {"cases_demo", "docs/pictures"}


def test_the_command_finds_it_in_either_language(house: Path, fitting: dict[str, Any], tmp_path: Path) -> None:
    file = tmp_path / "foot.json"
    file.write_text(json.dumps(fitting), encoding="utf-8")
    for language, label in LABELS.items():
        command = (str(BIN / "fitcheck"), "assess", "--language", language, str(file))
        assert_found(json.loads(run(house, *command, "--json", ok=(1,))), language)
        text = " ".join(run(house, *command, ok=(1,)).split())
        assert SAID[language] in text
        assert label in text


def test_the_service_finds_keeps_and_documents_it(served: httpx.Client, fitting: dict[str, Any]) -> None:
    for language in ("en", "de"):
        kept = served.post("/v1/assessments", json=fitting, params={"lang": language})
        assert kept.status_code == 201
        assert_found(kept.json(), language)
        assert_found(served.get(kept.headers["location"]).json(), language)
    part, _, name = PATH.partition(".")
    refused = served.post("/v1/assessments", json=fitting | {part: {name: 41}})
    assert [error["field"] for error in refused.json()["errors"]] == [PATH]
    schemas = served.get("/openapi.json").json()["components"]["schemas"]
    assert name in schemas[part.capitalize()]["properties"]


def test_the_rulebook_shows_it(house: Path, served: httpx.Client) -> None:
    book = served.get("/v1/rulebook", params={"lang": "de"}).json()
    [levelness] = [criterion for criterion in book["criteria"] if criterion["id"] == "levelness"]
    assert QUANTITY in {quantity["id"] for quantity in levelness["quantities"]}
    assert served.get(f"/v1/rulebook/rules/{RULE}").json()["limit"]["low"] == LIMIT
    page = run(house, str(BIN / "fitcheck"), "rules", "page")
    assert f"#### {RULE} (major)" in page
    assert page == (house / "docs" / "rulebook.md").read_text(encoding="utf-8")


def test_the_page_has_what_asks_for_it(served: httpx.Client) -> None:
    found = re.search(r'data-base="(/page/\w+)"', served.get("/").text)
    assert found is not None
    script = served.get(f"{found[1]}/js/observables.js").text
    [entry] = re.findall(rf"^  {QUANTITY}: (.+),$", script, re.MULTILINE)
    assert json.loads(entry) == {
        "unit": "mm",
        "control": "number",
        "fields": [{"path": PATH, "place": "sole", "words": []}],
    }
    for language, heading in HEADINGS.items():
        assert served.get(f"{found[1]}/messages/{language}.json").json()[f"question.{QUANTITY}"] == heading


def test_the_checks_of_the_copy_miss_nothing(house: Path) -> None:
    """The rulebook's analysis, and the tests that a contributor of a quantity meets."""
    assert "No fault found." in run(house, str(BIN / "fitcheck"), "rules", "check")
    chosen = (
        "tests/fitcheck/fitting/test_field_table.py",
        "tests/fitcheck/fitting/test_observables.py",
        "tests/test_readme.py",
        "tests/api/page/test_messages.py",
        "tests/api/page/test_write_observables.py",
        "tests/test_limit_cases.py",
    )
    wanted = (
        f"test_field_table or test_observables or test_readme or api or {RULE} or untried or every_case or every_rule"
    )
    said = run(house, str(BIN / "python"), "-m", "pytest", "-q", "-p", "no:cacheprovider", "-k", wanted, *chosen)
    assert re.search(r"\d+ passed", said)
