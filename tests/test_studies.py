"""Every long test belongs to a study, and every study has something to run."""

from __future__ import annotations

import re

import pytest

from tests.studies.__main__ import ALONE, LONG, ON_POSTGRESQL, STUDIES
from tests.support.counts import tries
from tests.support.paths import ROOT


def test_every_study_runs_files_that_there_are() -> None:
    for name, paths in (STUDIES | LONG | ALONE | ON_POSTGRESQL).items():
        assert all((ROOT / path).exists() for path in paths), name


def test_every_test_that_is_long_or_tries_more_in_a_study_belongs_to_one() -> None:
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        text, here = path.read_text(encoding="utf-8"), str(path.relative_to(ROOT))
        if "mark.long" in text and path.name != "test_studies.py":
            assert any(here.startswith(folder) for folders in (LONG | ALONE).values() for folder in folders), here
        if re.search(r"\btries\(\d", text) and "mark.long" not in text and path.name != "test_studies.py":
            assert any(here.startswith(folder) for folders in (STUDIES | LONG).values() for folder in folders), here


@pytest.mark.parametrize("quick", [1, 50])
def test_a_quick_run_tries_as_often_as_it_says(quick: int) -> None:
    assert tries(quick, full=500) in {quick, 50, 500}
