"""The report on paper: pages counted, nothing left out, the annex where it is asked for."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from fitcheck.assessment.assess import assess
from fitcheck.cli import main
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import draft_of, open_store
from fitcheck.report.html import DENSITIES, FootToReport, foot_report
from fitcheck.report.html.density import PaperFoot, density_of
from fitcheck.report.paper import pdf_of
from fitcheck.view import view_of
from rules import shipped_rulebook
from tests.support.kept_fittings import demo_bodies
from tests.support.paths import ROOT

CASES = ROOT / "cases_demo"
A4_MM = (210.0, 297.0)
Captured = pytest.CaptureFixture[str]
pytestmark = pytest.mark.filterwarnings("default")  # of what sets the pages


def read(file: Path) -> tuple[int, str]:
    """How many pages a PDF has, and its text with single blanks."""
    pages = PdfReader(file).pages
    for page in pages:
        size = [float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height)]
        assert size == pytest.approx(A4_MM, abs=0.5)
    return len(pages), " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.parametrize("body", demo_bodies()[::8], ids=range(len(demo_bodies()[::8])))
def test_a_foot_is_one_page_with_all_that_is_to_be_done(body: bytes, tmp_path: Path) -> None:
    book = shipped_rulebook()
    fitting = parse_fitting(json.loads(body))
    assessment = assess(fitting, book)
    file = tmp_path / "foot.pdf"
    page = foot_report(FootToReport(fitting=fitting, assessment=assessment, book=book), paper=True)
    file.write_bytes(pdf_of(page, pages=1))
    pages, text = read(file)
    assert pages == 1
    for said in (*assessment.actions, *(each.finding for each in assessment.findings), "Remarks and signatures"):
        assert said.replace(" ", "") in text.replace(" ", "")


def _rows(count: int) -> PaperFoot:
    foot = parse_fitting(json.loads((CASES / "high-nail.json").read_text(encoding="utf-8")))
    view = view_of(assess(foot), shipped_rulebook())
    return PaperFoot(view._replace(findings=view.findings[:1] * count), [], "", [])


def test_the_more_was_found_the_closer_a_page_is_set() -> None:
    chosen = [DENSITIES.index(density_of([_rows(count)])) for count in range(40)]
    assert chosen == sorted(chosen)
    assert set(chosen) == set(range(len(DENSITIES)))
    assert density_of([_rows(0), _rows(39)]) == DENSITIES[-1]
    noted = _rows(3)._replace(notes="A long note. " * 150)
    assert DENSITIES.index(density_of([noted])) > chosen[3]


def test_an_annex_has_the_readings_and_comes_where_it_is_asked_for(tmp_path: Path) -> None:
    file, whole = tmp_path / "foot.pdf", tmp_path / "whole.pdf"
    case = str(CASES / "high-nail.json")
    assert main(["report", case, "--pdf", "--output", str(file)]) == 0
    assert main(["report", case, "--pdf", "--annex", "--output", str(whole)]) == 0
    assert "Readings on which no limit fired" not in read(file)[1]
    pages, text = read(whole)
    assert pages > 1
    assert "What conforms" in text
    assert "Sources" in text


def test_four_feet_are_five_pages_at_most(tmp_path: Path, good: dict[str, Any]) -> None:
    url, file = f"sqlite:///{tmp_path / 'records.db'}", tmp_path / "visit.pdf"
    with open_store(url) as store:
        for foot in ("left_fore", "right_fore", "left_hind", "right_hind"):
            fitting = good | {"foot": foot, "visit": "v", "horse": {"id": "H-1"}}
            parsed = parse_fitting(fitting)
            store.keep(draft_of(json.dumps(fitting).encode(), parsed, assess(parsed)))
    assert main(["report", "--visit", "v", "--records", url, "--pdf", "--output", str(file)]) == 0
    pages, text = read(file)
    assert pages <= 5
    for title in ("Left fore", "Right fore", "Left hind", "Right hind", "The pairs"):
        assert title in text


def test_german_paper_is_german(tmp_path: Path) -> None:
    file = tmp_path / "huf.pdf"
    assert main(["report", str(CASES / "high-nail.json"), "--language", "de", "--pdf", "--output", str(file)]) == 0
    pages, text = read(file)
    assert pages == 1
    assert "Drawing" not in text


@pytest.mark.parametrize("options", [["--pdf"], ["--annex"], ["--annex", "--output", "x"]])
def test_paper_needs_a_file_and_an_annex_paper(options: list[str], capsys: Captured) -> None:
    assert main(["report", str(CASES / "high-nail.json"), *options]) == 64
    assert "--pdf needs the --output" in capsys.readouterr().err


def test_a_report_loads_nothing_from_outside(tmp_path: Path) -> None:
    hostile = '<html><body><img src="file:///etc/hostname"><img src="http://example.org/x.png"></body></html>'
    (tmp_path / "x.pdf").write_bytes(pdf_of(hostile, pages=1))
    assert read(tmp_path / "x.pdf") == (1, "")
