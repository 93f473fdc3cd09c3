"""The demo cases stand beside what the tool says of them, and it is what the tool says today."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[1]


def _script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("cases_demo_refresh", ROOT / "cases_demo" / "refresh.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


REFRESH = _script()
CASES: list[Path] = REFRESH.cases()


@pytest.mark.parametrize("case", CASES, ids=[case.stem for case in CASES])
def test_the_answer_beside_a_demo_case_is_what_the_tool_says(case: Path) -> None:
    text, document = REFRESH.said_of(case)
    remedy = "run: python cases_demo/refresh.py, and read the difference"
    assert case.with_suffix(".txt").read_text(encoding="utf-8") == text, remedy
    assert case.with_suffix(".answer.json").read_text(encoding="utf-8") == document, remedy


EXPECTED = {
    "good-draught-fore": ("release", set[str]()),
    "tight-heels-good-toe": (
        "put_right",
        {"heels-both-tight@foot", "heel-width-tight@medial_heel", "heel-width-tight@lateral_heel"},
    ),
    "heel-uncovered": ("put_right", {"heel-not-covered@medial_heel", "branches-far-uneven@foot"}),
    "high-nail": (
        "put_right",
        {"nail-high@nail:medial:2", "nail-ratio-high@nail:medial:2", "nails-far-uneven@medial_quarter"},
    ),
    "flinch": ("stop_and_refer", {"nail-flinch@nail:lateral:3"}),
    "proud-inside-clinches": (
        "put_right",
        {"clinch-proud-medial@nail:medial:2", "clinch-proud-medial@nail:medial:3"},
    ),
    "scorched-sole": (
        "put_right",
        {"sole-scorched@sole", "sole-pressed@sole", "dull-shoe-held@foot", "contact-long@foot"},
    ),
    "incomplete": ("incomplete", set[str]()),
    "inches-and-eye-words": ("release", {"heel-width-close@lateral_heel"}),
    "base-narrow-hind": ("release", set[str]()),
}


@pytest.mark.parametrize(("name", "expected"), EXPECTED.items(), ids=EXPECTED)
def test_the_demo_cases_are_judged_as_a_farrier_would(name: str, expected: tuple[str, set[str]]) -> None:
    """Common practice, no source: written down before the tool was asked."""
    answer = json.loads((ROOT / "cases_demo" / f"{name}.answer.json").read_text(encoding="utf-8"))
    assert (answer["decision"], {finding["id"] for finding in answer["findings"]}) == expected
