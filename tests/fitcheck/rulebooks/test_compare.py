"""The same fittings under two rulebooks: what changes, and which rules and limits it hangs on."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.errors import BadInput
from fitcheck.fitting.validation import parse_fitting
from fitcheck.report.comparison_text import case_document, case_lines, summary
from fitcheck.rulebooks.compare import CaseCompared, Comparing, compare_answers
from rules import Rulebook, first_rulebook, load_rulebook, shipped_rulebook
from tests.support.paths import ROOT
from tests.support.yard_books import IDENTITY, OURS, THICKER_IRON, yard_folder

CASES = ROOT / "cases_demo"
SHIPPED = shipped_rulebook()
YARD = load_rulebook(CASES / "yard_book")
DEMO = sorted(path.stem for path in CASES.glob("*.json") if not path.name.endswith(".answer.json"))
Changed = Callable[..., dict[str, Any]]


def raw(name: str) -> Any:
    return json.loads((CASES / f"{name}.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def comparing() -> Comparing:
    """From the shipped book to the yard's."""
    return Comparing(SHIPPED, YARD)


@pytest.fixture
def other(tmp_path: Path) -> Callable[..., Comparing]:
    """From the shipped book to one that has these changes."""

    def make(book: str = "", /, **files: str) -> Comparing:
        return Comparing(SHIPPED, load_rulebook(yard_folder(tmp_path, IDENTITY + book, **files)))

    return make


def why(case: CaseCompared) -> set[str]:
    return {f"{change.part}.{change.name}" for change in case.why}


def test_a_changed_decision_names_the_rules_and_limits_that_it_hangs_on(comparing: Comparing) -> None:
    case = comparing.compare("full-heels-late", raw("full-heels-late"))
    assert (case.before, case.after) == ("release", "put_right")
    assert {(change.id, change.how) for change in case.findings} == {
        ("heel-width-wide-full@lateral_heel", "gone"),
        ("interval-long@foot", "gone"),
        ("interval-overdue@foot", "new"),
    }
    assert why(case) == {"rules.heel-width-wide-full", "rules.interval-long", "rules.interval-overdue"}
    (overdue,) = [change for change in case.findings if change.id == "interval-overdue@foot"]
    assert [change.name for change in overdue.why] == ["interval-overdue"]
    (lesser,) = [change for change in case.findings if change.id == "interval-long@foot"]
    assert "interval-overdue" in {change.name for change in lesser.why}, "it is silent because the graver one fires"
    text = " ".join(" ".join(case_lines(case, comparing.difference)).split())
    assert text.startswith("full-heels-late: put right, was release")
    assert "why: interval-overdue: fires above 49 days, was above 56 days" in text
    assert "heel-width-wide-full: fires above 8 mm, was above allowance for turned-in heels + 6.35 mm" in text


def test_a_fitting_that_one_book_alone_can_read_is_refused_by_the_other(other: Callable[..., Comparing]) -> None:
    """Its shoe is 12 mm thick, which the one book allows and the other does not."""
    comparing = other(dimensions=THICKER_IRON)
    case = comparing.compare("full-heels-late", raw("full-heels-late"))
    assert (case.before, case.after) == ("release", "refused")
    assert why(case) == {"quantities.shoe_thickness"}
    assert [(each.field, each.allowed) for each in case.refused] == [("shoe.thickness", "14 to 30 mm")]
    assert (case.findings, case.actions.new) == ((), ())


def test_what_neither_book_can_read_is_bad_input(comparing: Comparing) -> None:
    with pytest.raises(BadInput):
        comparing.compare("bad", {"foot": "left_fore"})


@pytest.mark.parametrize("name", DEMO)
def test_equal_books_change_nothing(name: str) -> None:
    case = Comparing(YARD, YARD).compare(name, raw(name))
    assert not case.changes
    assert case.why == ()
    assert case.before == case.after


@pytest.mark.parametrize("name", DEMO)
def test_whatever_changes_on_a_demo_case_has_a_reason_in_the_book(name: str, comparing: Comparing) -> None:
    case = comparing.compare(name, raw(name))
    assert all(change.why for change in case.findings), case.findings
    assert bool(case.why) == case.changes
    document = json.loads(json.dumps(case_document(case, comparing.difference)))
    assert document["changes"] == case.changes


@pytest.mark.parametrize("name", DEMO)
def test_a_comparison_says_what_two_assessments_say(name: str, comparing: Comparing) -> None:
    case = comparing.compare(name, raw(name))
    old, new = (assess(parse_fitting(raw(name), book), book) for book in (SHIPPED, YARD))
    assert (case.before, case.after) == (old.decision, new.decision)
    told = {(finding.id, finding.finding, finding.action, finding.grade) for finding in old.findings} ^ {
        (finding.id, finding.finding, finding.action, finding.grade) for finding in new.findings
    }
    assert {each[0] for each in told} <= {change.id for change in case.findings}
    assert set(old.actions) - set(new.actions) == set(case.actions.gone)
    assert set(new.actions) - set(old.actions) == set(case.actions.new)


def judged(comparing: Comparing, fitting: dict[str, Any]) -> CaseCompared:
    return comparing.compare("case", fitting)


def test_a_rule_that_is_switched_off_is_the_reason(other: Callable[..., Comparing], changed: Changed) -> None:
    comparing = other(heel_fit="[rules.heel-width-tight]\noff = true\nbasis = 'x'\n", joined=TIGHT_OFF)
    case = judged(comparing, changed(observations__heel_fit__lateral__width=-3))
    assert (case.before, case.after) == ("put_right", "release")
    assert {(change.id, change.how) for change in case.findings} == {
        ("heel-width-tight@lateral_heel", "gone"),
        ("heel-width-close@lateral_heel", "new"),
    }
    assert "rules.heel-width-tight" in why(case)
    (lesser,) = [change for change in case.findings if change.how == "new"]
    assert "heel-width-tight" in {change.name for change in lesser.why}


TIGHT_OFF = "".join(
    f"[joined.{name}]\noff = true\nbasis = 'x'\n" for name in ("heels-both-tight", "heels-contraction-risk")
)


def test_what_is_required_and_missing_is_the_reason(other: Callable[..., Comparing], changed: Changed) -> None:
    comparing = other(
        '[required]\nfinished = ["heel_fit", "toe_fit", "clips", "levelness", "nails", "clinches", "going"]\n'
    )
    case = judged(comparing, changed(observations__finish=...))
    assert (case.before, case.after) == ("incomplete", "release")
    assert case.needed.gone == ("observations.finish.hand",)
    assert why(case) == {"required.required"}


def test_an_uncertainty_is_the_reason_where_a_reading_is_surer(
    other: Callable[..., Comparing], changed: Changed
) -> None:
    comparing = other(readings=f"[methods.rule]\nu = 0.2\n{OURS}")
    case = judged(comparing, changed(observations__heel_fit__medial__width=-1))
    (change,) = case.findings
    assert (change.id, change.how) == ("heel-width-tight@medial_heel", "changed")
    assert {"measured", "confidence"} <= set(change.differs)
    assert why(case) == {"methods.rule"}
    text = " ".join(" ".join(case_lines(case, comparing.difference)).split())
    assert "width -1 mm (u 0.2), was width -1 mm (u 0.5)" in text


def test_an_eye_word_is_the_reason_where_it_was_used(tmp_path: Path, changed: Changed) -> None:
    """Words stand for figures in the first contract's rulebook alone."""
    shutil.copytree(ROOT / "rules" / "first_book", tmp_path / "book")
    words = tmp_path / "book" / "eye_words.toml"
    text = words.read_text(encoding="utf-8")
    assert text.count("value = 0.8") == text.count("value = 5.0") == 1
    words.write_text(text.replace("value = 0.8", "value = -0.5").replace("value = 5.0", "value = 4"), encoding="utf-8")
    comparing = Comparing(first_rulebook(), load_rulebook(tmp_path / "book"))
    case = judged(comparing, changed(observations__heel_fit__medial__width="close"))
    assert (case.before, case.after) == ("release", "put_right")
    assert why(case) == {"eye_words.width.close"}


def test_the_grade_of_a_word_is_the_reason_where_it_was_used(other: Callable[..., Comparing], changed: Changed) -> None:
    graver = f'[rules.heel-seen-wide]\ngrade = "major"\nblocks = true\n{OURS}'
    case = judged(other(heel_fit=graver), changed(observations__heel_fit__medial__width="wide"))
    assert (case.before, case.after) == ("release", "put_right")
    assert why(case) == {"rules.heel-seen-wide"}


def test_a_parameter_is_the_reason_for_what_is_computed(other: Callable[..., Comparing], changed: Changed) -> None:
    comparing = other(parameters=f"[parameters.nail_bow]\nhigh = 6\n{OURS}")
    case = judged(comparing, changed(observations__nails__0__exit_height=40))
    assert "parameters.nail_bow" in why(case)
    assert any(change.id.startswith("nail-horn") for change in case.findings)


def test_a_caution_and_a_step_are_the_reason_where_they_are_told(
    other: Callable[..., Comparing], changed: Changed
) -> None:
    comparing = other(
        '[steps.draw_nails]\ntext = "Draw them all."\n',
        cautions="[cautions.hot_iron]\ntext = 'Hot iron burns.'\n[standing.own]\ntext = 'Tie the horse.'\n",
    )
    case = judged(comparing, changed(observations__heel_fit__medial__width=-3))
    assert case.before == case.after
    assert "Draw them all." in case.actions.new
    assert {"Hot iron burns.", "Tie the horse."} <= set(case.cautions.new)
    assert why(case) == {"steps.draw_nails", "cautions.hot_iron", "standing.own"}


def test_the_working_order_alone_is_told_where_it_changes(other: Callable[..., Comparing], changed: Changed) -> None:
    comparing = other(finish='[rules.surface-sharp]\norder = "foot"\n')
    case = judged(comparing, changed(observations__nails__0__clinch="cracked", observations__finish__hand="sharp"))
    assert case.before == case.after == "put_right"
    assert (case.actions.gone, case.actions.new) == ((), ())
    assert len(case.order) == 2
    assert case.changes
    assert why(case) == {"rules.surface-sharp"}


def test_the_summary_counts_decisions_and_findings(comparing: Comparing, other: Callable[..., Comparing]) -> None:
    cases = [
        comparing.compare(name, raw(name))
        for name in ("full-heels-late", "good-draught-fore", "yard_book/generous-heel")
    ]
    line = summary([*cases, other(dimensions=THICKER_IRON).compare("refused", raw("full-heels-late"))])
    assert line.startswith("4 fittings: 2 decisions change (release to put right: 1, release to refused: 1)")
    assert "2 new, 3 gone, 0 changed" in line


def test_books_in_one_process_do_not_disturb_one_another(tmp_path: Path) -> None:
    """Assessed in turn, each gives what it gives alone; what one has in its range another refuses."""
    late = raw("full-heels-late")

    def by(book: Rulebook | None) -> tuple[str, str, list[str]]:
        answer = assess(parse_fitting(late, book), book)
        return answer.rulebook.id, answer.decision, [finding.id for finding in answer.findings]

    shipped, yard = by(SHIPPED), by(YARD)
    assert (shipped[:2], yard[:2]) == (("shipped", "release"), ("low-meadow", "put_right"))
    for _ in range(3):
        assert (by(YARD), by(SHIPPED), by(None)) == (yard, shipped, shipped)
    with pytest.raises(BadInput):
        parse_fitting(late, load_rulebook(yard_folder(tmp_path, IDENTITY, dimensions=THICKER_IRON)))
    for book in (SHIPPED, YARD, None):
        assert parse_fitting(late, book).foot == "left_fore"


@pytest.mark.parametrize("name", ["full-heels-late", "tight-heels-good-toe", "good-draught-fore"])
def test_two_answers_compare_as_their_fitting_does_but_for_why(comparing: Comparing, name: str) -> None:
    under_both = comparing.compare(name, raw(name))
    old, new = (assess(parse_fitting(raw(name), book), book) for book in (SHIPPED, YARD))
    case = compare_answers(name, old, new, YARD)
    without = replace(under_both, findings=tuple(replace(change, why=()) for change in under_both.findings), why=())
    assert case == without
    assert under_both.changes == case.changes


def test_an_answer_under_a_book_that_refuses_the_fitting_says_why(tmp_path: Path) -> None:
    thicker = load_rulebook(yard_folder(tmp_path, IDENTITY, dimensions=THICKER_IRON))
    late = raw("full-heels-late")
    old = assess(parse_fitting(late, SHIPPED), SHIPPED)
    with pytest.raises(BadInput) as caught:
        parse_fitting(late, thicker)
    case = compare_answers("full-heels-late", old, caught.value, thicker)
    assert (case.before, case.after) == ("release", "refused")
    assert case.refused == caught.value.problems
    assert (case.findings, case.actions.gone) == ((), ())
