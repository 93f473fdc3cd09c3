"""What the tool says of the demo feet: plain, explained and in German, as documents, texts, drawings and reports."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from fitcheck.assessment.assess import assess
from fitcheck.drawing import draw
from fitcheck.explanation.explain import explain
from fitcheck.fitting.models import Fitting
from fitcheck.marking import mark_of
from fitcheck.pairs import assess_pair
from fitcheck.report.explanation_text import render_explanation
from fitcheck.report.html import FootToReport, foot_report
from fitcheck.report.marks_text import render_marks
from fitcheck.report.terminal import render
from rules import localized, shipped_rulebook
from tests.frozen.normal import normal, normal_json
from tests.support.paths import ROOT

__all__ = ["demo_answers"]

_CASES: Final = ROOT / "cases_demo"


def _fitting(path: Path) -> Fitting:
    return Fitting.model_validate(json.loads(path.read_text(encoding="utf-8")))


def demo_answers() -> Iterator[tuple[str, str]]:
    """Every demo foot and the demo pair, in every form in which it is told."""
    for path in sorted(_CASES.glob("*.json")):
        if path.name.endswith(".answer.json"):
            continue
        for language in ("en", "de"):
            yield from _foot(f"{path.stem}.{language}", _fitting(path), language)
    for language in ("en", "de"):
        left, right = (_fitting(_CASES / "fore_pair" / f"{side}_fore.json") for side in ("left", "right"))
        book = localized(shipped_rulebook(), language)
        yield f"fore_pair.{language}", normal_json(assess_pair(left, right, book).model_dump(mode="json"))


def _foot(name: str, fitting: Fitting, language: str) -> Iterator[tuple[str, str]]:
    book = localized(shipped_rulebook(), language)
    assessment = assess(fitting, book)
    yield f"{name}.answer", normal_json(assessment.model_dump(mode="json"))
    yield f"{name}.text", normal(render(assessment, book, title="demo"))
    explained = explain(fitting, book)
    yield f"{name}.explained", normal_json(explained.model_dump(mode="json"))
    yield f"{name}.explained.text", render_explanation(explained.explanation, book)
    sheet = mark_of(assessment, book)
    yield f"{name}.marks", normal_json(sheet.model_dump(mode="json"))
    yield f"{name}.marks.text", normal(render_marks(sheet, title="demo", language=language))
    yield f"{name}.drawing", normal(draw(fitting, assessment, book))
    yield f"{name}.report", normal(foot_report(FootToReport(fitting=fitting, assessment=assessment, book=book)))
