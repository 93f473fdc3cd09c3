"""Every limit of the rulebook, read off tables of cases: below, at and above it, in its contexts and outside them.

The cases stand in ``cases/<criterion>.toml``, ``cases/cross_checks.toml`` and ``cases/joined.toml``, whole fittings in
``cases/fittings.toml``.  Cases of one foot were drawn up from the rulebook's own limits: a wrong figure in the book is
wrong in them too, and only tests against the printed figures (``reference/``) would tell.
"""

from __future__ import annotations

import dataclasses
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any, Final, Literal

import pytest
from pydantic import Field, ValidationError

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting
from rules import evaluator_for, shipped_rulebook
from tests.support.limit_cases import Strict, load, misplaced, parse
from tests.support.limit_gate import gaps, gaps_of
from tests.support.whole_fittings import as_fitting

FOLDER: Final = Path(__file__).parent / "cases"
BOOK: Final = shipped_rulebook()
RULES: Final = (*BOOK.rules, *BOOK.joined)
FILES: Final = {name: load(FOLDER / f"{name}.toml") for name in (*BOOK.criteria, "cross_checks", "joined")}
CASES: Final = [case for cases in FILES.values() for case in cases]
CASES_OF: Final = {rule_id: [case for case in CASES if case.rule == rule_id] for rule_id in RULES}
SENDABLE: Final = [(case, fitting) for case in CASES if (fitting := as_fitting(case)) is not None]

UNREACHED: Final = {
    "angle_difference",
    "bare_arc",
    "branch_difference",
    "calk_difference",
    "cleft_difference",
    "clinch_ratio",
    "dark_patch",
    "deciding_disagreement",
    "disagreement",
    "exit_height_apart",
    "flatness",
    "fuller_ratio",
    "height_difference",
    "height_ratio",
    "least_horn",
    "length_apart",
    "length_past_bulbs",
    "nail_count",
    "nail_spread",
    "rearmost",
    "rock",
    "set_back",
    "shoe_length_apart",
    "toe_calk_excess",
    "trace_ratio",
    "wall_angle_apart",
    "wall_height_apart",
    "web_ratio",
    "width_past_coronet",
    "worn_share",
}
"""Quantities that no whole fitting here reaches; what computes them from several observations at once is tested alone.

A quantity leaves this list as soon as a fitting in ``cases/fittings.toml`` draws a finding on it.
"""


class FittingCase(Strict):
    """A whole fitting, the complete list of its findings, and the decision."""

    name: str = Field(min_length=20)
    source: str = Field(min_length=2)
    expect: list[str]
    decision: Literal["go_on", "release", "put_right", "stop_and_refer", "incomplete"]
    fitting: dict[str, Any]


class FittingFile(Strict):
    case: list[FittingCase]


FITTINGS: Final = FittingFile.model_validate(tomllib.loads((FOLDER / "fittings.toml").read_text(encoding="utf-8"))).case


def _found(assessment: Assessment) -> list[str]:
    return sorted(finding.id for finding in assessment.findings)


@pytest.mark.parametrize("rule_id", RULES)
def test_the_limits_find(rule_id: str) -> None:
    for case in CASES_OF[rule_id]:
        firings = evaluator_for(BOOK).evaluate(case.situation, case.table.values())
        said = f"{case.name} ({case.source})"
        assert (said, sorted(f"{each.rule}@{each.place}" for each in firings)) == (said, sorted(case.expect))


@pytest.mark.parametrize("rule_id", dict.fromkeys(case.rule for case, _ in SENDABLE))
def test_a_whole_fitting_finds_the_same(rule_id: str) -> None:
    """Findings on quantities that are computed besides, such as the number of nails, are not this case's business."""
    for case, fitting in SENDABLE:
        if case.rule != rule_id:
            continue
        assessment = assess(Fitting.model_validate(fitting))
        besides = {
            finding.id
            for finding in assessment.findings
            if finding.rule in BOOK.rules and not case.reads(BOOK.rules[finding.rule].quantity)
        }
        said = f"{case.name} ({case.source})"
        assert (said, sorted(set(_found(assessment)) - besides)) == (said, sorted(case.expect))


@pytest.mark.parametrize("case", FITTINGS, ids=[case.name for case in FITTINGS])
def test_a_whole_fitting_finds(case: FittingCase) -> None:
    assessment = assess(Fitting.model_validate(case.fitting))
    assert (_found(assessment), assessment.decision) == (sorted(case.expect), case.decision), case.source


def test_every_case_has_a_file_and_a_name_of_its_own() -> None:
    assert {path.stem for path in FOLDER.glob("*.toml")} == set(FILES) | {"fittings", "grades"}
    names = Counter([*(case.name for case in CASES), *(case.name for case in FITTINGS)])
    assert [name for name, times in names.items() if times > 1] == []


def test_every_case_stands_in_the_file_of_its_rule() -> None:
    strays = [
        case.name
        for name, cases in FILES.items()
        for case in cases
        if BOOK.files.get(case.rule) != f"{name}.toml" or not {*case.silent} <= {*RULES}
    ]
    assert strays == []


def test_every_case_stands_where_it_says_to_the_limit() -> None:
    assert [f"{case.name}: {fault}" for case in CASES for fault in misplaced(BOOK, case)] == []


def test_the_cases_leave_nothing_of_any_rule_untried() -> None:
    assert gaps(BOOK, CASES) == []


def test_every_rule_fires_on_a_whole_fitting_but_for_what_is_computed_elsewhere() -> None:
    fired = {name.partition("@")[0] for case, _ in SENDABLE for name in case.expect}
    fired |= {name.partition("@")[0] for case in FITTINGS for name in case.expect}
    assert {BOOK.rules[rule_id].quantity for rule_id in BOOK.rules if rule_id not in fired} == UNREACHED
    assert set(BOOK.joined) <= fired


def test_every_rule_has_the_grade_of_the_table_of_limits() -> None:
    listed = tomllib.loads((FOLDER / "grades.toml").read_text(encoding="utf-8"))
    grades = {rule_id: grade for grade, rule_ids in listed.items() for rule_id in rule_ids}
    assert sum(map(len, listed.values())) == len(grades), "a rule is listed twice"
    assert grades == {rule_id: BOOK.remedy(rule_id).grade for rule_id in RULES}


# The gate itself: it must be able to fail.


def test_the_gate_reports_a_rule_that_never_fires() -> None:
    for rule_id in RULES:
        faults = gaps_of(rule_id, BOOK, [case for case in CASES if not case.fires(rule_id)])
        assert any(fault.startswith("never fires") for fault in faults), rule_id


def test_the_gate_reports_a_rule_that_is_never_silent() -> None:
    for rule_id in RULES:
        faults = gaps_of(rule_id, BOOK, [case for case in CASES if case.fires(rule_id)])
        assert any(fault.startswith("never silent") for fault in faults), rule_id


@pytest.mark.parametrize("where", ["below", "at", "above"])
def test_the_gate_reports_a_limit_with_no_case_on_one_side_of_it_or_at_it(where: str) -> None:
    for rule_id in (rule_id for rule_id, rule in BOOK.rules.items() if rule.is_ is None):
        faults = gaps_of(rule_id, BOOK, [case for case in CASES if (case.rule, case.where) != (rule_id, where)])
        assert any(fault.startswith(f"no case {where} the") for fault in faults), rule_id


def test_the_gate_reports_a_context_with_no_case_outside_it() -> None:
    for rule_id in (rule_id for rule_id, rule in BOOK.rules.items() if rule.applies):
        faults = gaps_of(rule_id, BOOK, [case for case in CASES if (case.rule, case.where) != (rule_id, "elsewhere")])
        assert any(fault.startswith("never tried outside its") for fault in faults), rule_id


def test_the_gate_reports_a_rule_that_is_never_seen_to_yield() -> None:
    for rule_id in (rule_id for rule_id, rule in BOOK.rules.items() if rule.unless):
        faults = gaps_of(rule_id, BOOK, [case for case in CASES if rule_id not in case.silent])
        assert any(fault.startswith("never yields to") for fault in faults), rule_id


def test_the_gate_reports_a_clause_that_is_never_missing() -> None:
    for rule_id, joined in BOOK.joined.items():
        for clause in range(len(joined.when)):
            without = [case for case in CASES if (case.rule, case.where, case.clause) != (rule_id, "missing", clause)]
            assert f"never silent for want of clause {clause}" in gaps_of(rule_id, BOOK, without)


def test_the_gate_reports_a_rule_that_is_new_to_the_book() -> None:
    book = dataclasses.replace(BOOK, rules={**BOOK.rules, "new-rule": BOOK.rules["heel-width-close"]})
    assert {fault.partition(":")[0] for fault in gaps(book, CASES)} == {"new-rule"}


def test_the_gate_reports_a_limit_that_moved() -> None:
    moved = BOOK.rules["heel-width-close"].model_copy(update={"low": 1.7})
    book = dataclasses.replace(BOOK, rules={**BOOK.rules, "heel-width-close": moved})
    faults = [case.where for case in FILES["heel_fit"] if case.rule == "heel-width-close" and [*misplaced(book, case)]]
    assert {"at", "above"} <= {*faults}


GOOD: Final = """
[given]
foot = "fore"
stage = "hot_fit"
work = "draught"
hoof_form = "regular"
hot_fitted = "yes"
[[case]]
name = "A medial branch inside the wall is tight"
rule = "heel-width-tight"
where = "below"
source = "LA"
readings = [{quantity = "width", place = "medial_heel", value = -0.1, u = 0.5}]
expect = ["heel-width-tight@medial_heel"]
"""


def test_a_case_without_fault_is_read() -> None:
    assert [case.rule for case in parse(GOOD)] == ["heel-width-tight"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('source = "LA"', 'source = "LA"\nexpected = []'),
        ("u = 0.5}", "u = 0.5, unit = 'mm'}"),
        ("[given]", "[given]\nweather = 'fair'"),
        ("[given]", "title = 'cases'\n[given]"),
        ('"draught"', '"racing"'),
        (", u = 0.5", ""),
        ("-0.1", '"tight"'),
        ("-0.1", "nan"),
        ('"below"', '"under"'),
    ],
)
def test_a_case_file_with_an_unknown_key_or_word_is_refused(old: str, new: str) -> None:
    assert old in GOOD
    with pytest.raises(ValueError, match=r"."):
        parse(GOOD.replace(old, new))


def test_a_file_of_fittings_with_an_unknown_key_is_refused() -> None:
    good = FITTINGS[0].model_dump()
    assert FittingFile.model_validate({"case": [good]}).case == [FITTINGS[0]]
    with pytest.raises(ValidationError, match="note"):
        FittingFile.model_validate({"case": [good | {"note": ""}]})
