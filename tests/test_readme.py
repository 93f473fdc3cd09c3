"""The README says what is true."""

from __future__ import annotations

import json
import re
from typing import Any

from fitcheck import Fitting, __version__, assess, shipped_rulebook
from tests.support.paths import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")


def block(mark: str) -> Any:
    found = re.search(rf"<!-- {mark} -->\s*```json\n(.+?)\n```", README, re.DOTALL)
    assert found is not None
    return json.loads(found[1])


def assert_within(part: Any, whole: Any) -> None:
    if isinstance(part, dict):
        for key, value in part.items():
            assert_within(value, whole[key])
    elif isinstance(part, list):
        assert len(part) == len(whole)
        for one, other in zip(part, whole, strict=True):
            assert_within(one, other)
    else:
        assert part == whole


def test_the_readme_opens_with_one_paragraph_that_states_the_job() -> None:
    first = README.split("\n\n", 1)[0]
    assert first.startswith("fitcheck is ")
    assert "heavy horses" in first


def test_the_answer_in_the_readme_is_the_answer_to_its_request() -> None:
    answer = assess(Fitting.model_validate(block("request"))).model_dump(mode="json")
    assert_within(block("answer"), answer)


def test_the_changelog_begins_with_this_release_and_its_day() -> None:
    changelog = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    releases = re.findall(r"^## (.+)$", changelog, re.MULTILINE)
    assert re.fullmatch(rf"{re.escape(__version__)} \(20\d\d-\d\d-\d\d\)", releases[0])
    assert all(re.fullmatch(r"\d+\.\d+\.\d+ \(20\d\d-\d\d-\d\d\)", release) for release in releases)


def test_every_path_that_contributors_are_told_of_is_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    paths = {
        path for path in re.findall(r"`([\w./-]+/[\w./-]*)`", text) if "*" not in path and not path.startswith("/")
    }
    roots = (ROOT, ROOT / "fitcheck", ROOT / "fitcheck" / "records", ROOT / "api", ROOT / "rules", ROOT / "tests")
    missing = {
        path for path in paths if not any((root / path).exists() or (root / f"{path}.py").exists() for root in roots)
    }
    assert len(paths) > 40
    assert missing == set()


def test_the_changelog_counts_the_rulebook_right() -> None:
    book = shipped_rulebook()
    changelog = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert f"Rulebook {book.version}: {len(book.rules)} single rules and {len(book.joined)} joined ones" in changelog
