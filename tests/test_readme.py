"""The README says what is true."""

from __future__ import annotations

import json
import re
from typing import Any

from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from rules import shipped_rulebook
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


def test_the_changelog_counts_the_rulebook_right() -> None:
    book = shipped_rulebook()
    changelog = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert f"Rulebook {book.version}: {len(book.rules)} single rules and {len(book.joined)} joined ones" in changelog
