"""Reports as HTML: everything is told, in an order that helps, for eyes, ears and paper; nothing breaks out."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.fitting.validation import parse_fitting
from fitcheck.marking import mark_of
from fitcheck.pairs.visit import Assessed, visit_of
from fitcheck.report.html import REPORT_POLICY, FootToReport, RecordReference, foot_report, visit_report
from rules import Rulebook, localized, shipped_rulebook
from tests.support.desk_records import HOSTILE
from tests.support.language_texts import english_in
from tests.support.marked import overridden
from tests.support.pages import Element, page_of
from tests.support.paths import ROOT

Edit = Callable[..., dict[str, Any]]
BOOK = shipped_rulebook()
GERMAN = localized(BOOK, "de")
CASES = ROOT / "cases_demo"
NAMES = sorted(path.stem for path in CASES.glob("*.json") if ".answer" not in path.name)


def to_report(document: dict[str, Any], book: Rulebook = BOOK, **more: Any) -> FootToReport:
    fitting = parse_fitting(document, book)
    return FootToReport(fitting=fitting, assessment=assess(fitting, book), book=book, **more)


def case(name: str, book: Rulebook = BOOK, /, **edits: Any) -> FootToReport:
    return to_report(json.loads((CASES / f"{name}.json").read_text(encoding="utf-8")) | edits, book)


def visit_page(*feet: FootToReport, book: Rulebook = BOOK) -> Element:
    visit = visit_of([Assessed(foot.fitting, foot.assessment) for foot in feet], book)
    return page_of(visit_report(visit, feet, book))


@pytest.fixture(scope="module", params=[*NAMES, "visit"])
def page(request: pytest.FixtureRequest) -> Element:
    """A report of each demo case, and of a visit."""
    if request.param == "visit":
        horse: dict[str, Any] = {"horse": {"id": "H-1"}, "visit": "v"}
        return visit_page(
            case("high-nail", foot="left_fore", **horse), case("good-draught-fore", foot="right_fore", **horse)
        )
    return page_of(foot_report(case(request.param)))


def test_headings_go_down_by_one_step_at_a_time(page: Element) -> None:
    levels = [int(each.tag[1]) for each in page.all("h1", "h2", "h3", "h4", "h5")]
    assert (levels[0], levels.count(1)) == (1, 1)
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_a_page_names_its_language_and_itself(page: Element) -> None:
    (html,) = page.all("html")
    assert html.attributes["lang"] == "en"
    assert next(page.all("title")).text == next(page.all("h1")).text
    assert len(list(page.all("main"))) == 1


def test_each_table_has_a_caption_and_heads_with_a_scope_and_rows_as_wide_as_its_head(page: Element) -> None:
    for table in page.all("table"):
        assert next(table.all("caption")).text
        assert all(each.attributes.get("scope") in {"col", "row"} for each in table.all("th"))
        head, *rows = table.all("tr")
        width = len(list(head.all("th")))
        assert rows
        for row in rows:
            assert sum(int(cell.attributes.get("colspan", 1)) for cell in row.all("td", "th")) == width


def test_ids_are_unique_and_links_lead_to_them(page: Element) -> None:
    ids = [each.attributes["id"] for each in page.all() if "id" in each.attributes]
    assert len(ids) == len(set(ids))
    for link in page.all("a"):
        assert link.attributes["href"].removeprefix("#") in ids
    for svg in page.all("svg"):
        assert set(svg.attributes["aria-labelledby"].split()) <= set(ids)


def test_a_page_has_no_script_and_loads_nothing(page: Element) -> None:
    assert not list(page.all("script", "iframe", "object", "embed", "link", "img", "form", "base"))
    for each in page.all():
        assert not {name for name in each.attributes if name.startswith("on") or name in {"style", "src", "srcset"}}


def test_the_style_sheet_in_the_page_is_the_one_that_the_policy_lets_in(page: Element) -> None:
    (style,) = page.all("style")
    digest = base64.b64encode(hashlib.sha256("".join(map(str, style.content)).encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in REPORT_POLICY
    assert "unsafe" not in REPORT_POLICY
    policies = [each.attributes["content"] for each in page.all("meta") if "http-equiv" in each.attributes]
    assert policies == [REPORT_POLICY]


@pytest.mark.parametrize("name", NAMES)
def test_everything_that_was_answered_is_told(name: str) -> None:
    foot = case(name)
    assessment, text = foot.assessment, page_of(foot_report(foot)).text
    told = [
        *assessment.cautions,
        *assessment.actions,
        *assessment.remarks,
        *(part for finding in assessment.findings for part in (finding.finding, finding.why)),
        *(need.say for need in assessment.still_needed),
        *(BOOK.sources[source].title for finding in assessment.findings for source in finding.sources),
        *([assessment.next_due.say] if assessment.next_due else []),
        BOOK.title,
        BOOK.version,
        BOOK.digest,
        assessment.id,
        f"{assessment.created[:10]} {assessment.created[11:16]} UTC",
        "Record not kept",
    ]
    for each in told:
        assert " ".join(each.split()) in text
    quantities = {each.quantity for each in assessment.measurements}
    tables = [each for each in page_of(foot_report(foot)).all("table") if "As read" in each.text]
    assert [len(list(table.all("tr"))) - 1 for table in tables] == ([len(quantities)] if quantities else [])


def test_cautions_come_before_everything_but_the_decision() -> None:
    page = page_of(foot_report(case("flinch")))
    heads = [each.text for each in page.all("h2")]
    assert heads[0] == "Cautions"
    assert heads.index("What to do, in this order") < heads.index("Found") < heads.index("Measurements")
    body = page.text
    assert body.index("STOP AND REFER") < body.index("STOP.") < body.index("Horse")


def test_what_is_missing_is_never_told_as_good() -> None:
    text = page_of(foot_report(case("incomplete"))).text
    assert "not enough was observed" in text
    assert "Nothing has to be put right" not in text
    assert "Still needed before release" in text


def test_the_record_and_what_became_of_it_are_told(good: dict[str, Any]) -> None:
    kept = RecordReference(7, "sha256:" + "d" * 64, "earlier-one", ("later-one",))
    text = page_of(foot_report(to_report(good, kept=kept))).text
    assert "Record number 7" in text
    assert "sha256:" + "d" * 64 in text
    assert "Corrects earlier-one" in text
    assert "This assessment no longer counts. It is corrected by later-one." in text


def test_what_an_assessor_changed_stands_beside_what_the_tool_found(changed: Edit) -> None:
    foot = to_report(changed(observations__nails__1__exit_height=44))
    finding = foot.assessment.findings[0]
    override = overridden(
        foot.assessment,
        {"what": "strike", "finding": finding.id, "reason": "The rule slipped."},
    )
    sheet = mark_of(foot.assessment, BOOK, [override])
    page = page_of(
        foot_report(FootToReport(fitting=foot.fitting, assessment=foot.assessment, book=BOOK, changes=sheet.changes))
    )
    (row,) = [each for each in page.all("tr") if finding.finding in each.text]
    assert f"Struck, was {finding.grade}. Reason: The rule slipped." in row.text
    assert "Changes by assessors" in [each.text for each in page.all("h2")]


def test_an_answer_by_a_rulebook_that_is_not_at_hand_is_told_as_such(good: dict[str, Any]) -> None:
    foot = to_report(good)
    other = foot.assessment.model_copy(
        update={"rulebook": foot.assessment.rulebook.model_copy(update={"digest": "sha256:" + "e" * 64})}
    )
    text = page_of(foot_report(FootToReport(fitting=foot.fitting, assessment=other, book=BOOK))).text
    assert "The rulebook that judged is not at hand." in text
    assert "sha256:" + "e" * 64 in text


def test_hostile_texts_are_text_and_nothing_else(changed: Edit) -> None:
    names = changed(horse={"id": HOSTILE.replace("\u202e", "")[:64]}, visit=HOSTILE.replace("\u202e", "")[:64])
    foot = to_report(names | {"notes": HOSTILE}, kept=RecordReference(1, "sha256:x", HOSTILE, (HOSTILE,)))
    for html in (foot_report(foot), visit_report(visit_of([Assessed(foot.fitting, foot.assessment)]), [foot], BOOK)):
        page = page_of(html)
        assert not list(page.all("script", "img"))
        assert "<script" not in html
        assert "<img" not in html
        assert "\u202e" not in html
        assert "{{ 7*7 }}" in page.text


def test_a_visit_tells_of_each_foot_the_pairs_and_what_was_not_seen() -> None:
    horse: dict[str, Any] = {"horse": {"id": "H-1"}, "visit": "v"}
    page = visit_page(
        case("high-nail", foot="left_fore", **horse),
        case("flinch", foot="right_fore", **horse),
        case("good-draught-fore", foot="left_hind", **horse),
    )
    text = page.text
    assert [each.text for each in page.all("h3")][:2] == ["Fore pair", "Hind pair"]
    assert "Right hind Not seen" in text
    assert "This comes from: right fore." in text
    assert text.index("STOP. Drive no more nails") < text.index("The feet")
    assert len(list(page.all("svg"))) == 3


def test_pairs_that_differ_are_told_with_their_sources(changed: Edit) -> None:
    left = to_report(changed(foot="left_fore", horse={"id": "H-1"}, visit="v"))
    right = to_report(
        changed(foot="right_fore", horse={"id": "H-1"}, visit="v", observations__heel_fit__medial__length=22)
    )
    visit = visit_of([Assessed(left.fitting, left.assessment), Assessed(right.fitting, right.assessment)], BOOK)
    (pair,) = [each for each in visit.pairs if each.findings]
    text = page_of(visit_report(visit, [left, right], BOOK)).text
    assert pair.findings[0].finding in text
    assert all(BOOK.sources[name].title in text for finding in pair.findings for name in finding.sources)


@pytest.mark.parametrize("name", NAMES)
def test_a_german_report_has_no_english_label(name: str) -> None:
    page = page_of(foot_report(case(name, GERMAN, notes=None)))
    assert english_in(page) == set()
    assert next(page.all("html")).attributes["lang"] == "de"


def test_a_german_report_of_a_visit_has_no_english_label() -> None:
    horse: dict[str, Any] = {"horse": {"id": "H-1"}, "visit": "v", "notes": None}
    left, right = (
        case("high-nail", GERMAN, foot="left_fore", **horse),
        case("flinch", GERMAN, foot="right_fore", **horse),
    )
    page = visit_page(left, right, book=GERMAN)
    assert english_in(page) == set()
    assert "Das kommt von: Vorderhuf rechts." in page.text


def test_english_is_found_where_there_is_some() -> None:
    found = english_in(page_of(foot_report(case("flinch"))))
    assert {"Found", "Cautions", "Measurements", "the", "of"} <= found


def test_findings_in_another_language_than_the_report_are_told_as_such() -> None:
    note = "Findings, actions and cautions stand in the language in which they were answered."
    foot = case("flinch", GERMAN)
    mixed = FootToReport(fitting=foot.fitting, assessment=foot.assessment, book=BOOK)
    assert note in page_of(foot_report(mixed)).text
    assert note not in page_of(foot_report(case("flinch"))).text
