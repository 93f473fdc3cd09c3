"""Whole feet as the handbooks of shoeing describe them, and what a master farrier would have the tool say of each.

The cases stand in ``cases/handbook/``, a file a chapter of what the handbooks say; each names the facts that it rests
on (chapter and number) and the source and page.  What they expect comes from the handbooks, never from the tool.
Cases that the rulebook does not yet judge so are listed by name in ``cases/handbook/awaited.txt``: one that begins to
agree fails here until it is taken from that list, so that the list only shrinks.

The sources:

* LA: A. Lungwitz and J. W. Adams, A Text-Book of Horseshoeing, 11th ed. 1913.  USDA: Special Report on Diseases of the
  Horse, U.S. Department of Agriculture, chapter on shoeing by J. W. Adams.
* HU: W. Hunting, The Art of Horse-Shoeing, 1895.  FL: G. Fleming, Horse-Shoes and Horse-Shoeing, 1869.
* DY: A. B. Dyer, Handbook for Light Artillery.  DAHL 2023: Animals 13(11) 1872.  FRU 2008: Pferdeheilkunde 24(3) 326.
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any, Final

import pytest
from pydantic import Field

from fitcheck import Fitting, assess, assess_pair
from rules.model.records import STAGES
from tests.awaited import shorten, still_awaited
from tests.support.limit_cases import Strict
from tests.support.whole_feet import HANDBOOK, Changes, Expectation, Expected, disagreements, good_foot, lines_of


class HandbookCase(Changes, Expectation):
    """One foot, what a handbook says of such a foot, and what is expected; with ``fellow`` also the pair."""

    name: str = Field(min_length=20)
    facts: list[str] = Field(min_length=1)
    handbook: str = Field(min_length=20)
    like: str
    fellow: Changes | None = None
    """What differs between the first foot and the other one of the pair."""
    pair: list[Expected] = Field(default_factory=list)
    """What is found of the pair, and nothing else."""

    @property
    def other_foot(self) -> dict[str, Any]:
        """The other foot of the pair as a fitting."""
        assert self.fellow is not None, self.name
        laid_over = self.model_copy(update={"fitting": {**self.fitting, **self.fellow.fitting}})
        return laid_over.applied()


class HandbookFile(Strict):
    """The cases of one chapter."""

    case: list[HandbookCase]


def _file(name: str) -> list[HandbookCase]:
    return HandbookFile.model_validate(tomllib.loads((HANDBOOK / name).read_text(encoding="utf-8"))).case


CHAPTERS: Final = {path.name: _file(path.name) for path in sorted(HANDBOOK.glob("[0-9]*.toml"))}
CASES: Final = [case for cases in CHAPTERS.values() for case in cases]
AWAITED: Final = lines_of(HANDBOOK / "awaited.txt")
REASON: Final = "awaited.txt: the rulebook does not yet judge so"


def _case(case: HandbookCase) -> Any:
    marks = [pytest.mark.xfail(strict=True, reason=REASON, raises=AssertionError)] if case.name in AWAITED else []
    return pytest.param(case, id=case.name, marks=marks)


@pytest.mark.parametrize("case", [_case(case) for case in CASES])
def test_a_foot_is_judged_as_the_handbooks_have_it(case: HandbookCase) -> None:
    fitting = Fitting.model_validate(case.applied())
    assert disagreements(case, assess(fitting)) == [], case.handbook
    if case.fellow is not None:
        found = assess_pair(fitting, Fitting.model_validate(case.other_foot)).findings
        assert [wanted for wanted in case.pair if not any(wanted.means(finding) for finding in found)] == []
        besides = [finding.id for finding in found if not any(wanted.means(finding) for wanted in case.pair)]
        assert besides == [], case.handbook


def test_every_awaited_case_is_there_and_listed_once() -> None:
    assert sorted(set(AWAITED) - {case.name for case in CASES}) == []
    assert [name for name, times in Counter(AWAITED).items() if times > 1] == []


def test_every_case_has_a_name_of_its_own_and_names_facts_of_a_chapter() -> None:
    names = Counter(case.name for case in CASES)
    assert [name for name, times in names.items() if times > 1] == []
    for file, cases in CHAPTERS.items():
        chapter = str(int(file[:2]))
        for case in cases:
            assert all(re.fullmatch(r"([1-9]|1[01])\.[1-9][0-9]?", fact) for fact in case.facts), case.name
            assert any(fact.split(".")[0] == chapter for fact in case.facts), case.name


def test_the_cases_cover_stages_forms_stances_feet_and_works_good_and_bad() -> None:
    fittings = [(case, Fitting.model_validate(case.applied())) for case in CASES]
    assert len(fittings) >= 60
    assert {fitting.stage for _, fitting in fittings} == set(STAGES)
    assert {fitting.form_and_stance[0] for _, fitting in fittings} == {
        *("regular", "acute", "upright"),
        *("bear", "wide", "narrow"),
    }
    assert {fitting.form_and_stance[1] for _, fitting in fittings} == {"regular", "base_wide", "base_narrow"}
    assert {(fitting.pair, fitting.work) for _, fitting in fittings} >= {
        ("fore", "draught"),
        ("hind", "draught"),
        ("fore", "riding"),
        ("hind", "riding"),
        ("fore", "harness"),
    }
    for stage in STAGES:
        decisions = {case.decision for case, fitting in fittings if fitting.stage == stage}
        passed = "release" if stage == "finished" else "go_on"
        assert decisions >= {passed, "put_right", "stop_and_refer", "incomplete"}, stage


# The comparison itself: it must be able to fail.


def _flinch() -> Expectation:
    found = Expected(criterion="nails", place="nail:medial:3", quantity="reaction", grade="critical")
    return Expectation(decision="stop_and_refer", find=[found])


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"decision": "put_right"}, "decision: stop_and_refer, expected put_right"),
        ({"next": "shoe"}, "next: None, expected shoe"),
        ({"find": []}, "found besides: nail-flinch@nail:medial:3 (critical)"),
        ({"find": [Expected(place="toe")]}, "not found: {'place': 'toe'}"),
        ({"never": [Expected(criterion="nails")]}, "found: nail-flinch@nail:medial:3, expected never"),
        ({"needed": ["hoof.web"]}, "still needed: not hoof.web"),
    ],
)
def test_what_is_not_as_expected_is_told(change: dict[str, Any], told: str) -> None:
    foot = Changes(like="fore_nailed", nail={"medial:3": {"reaction": "flinch"}}).applied()
    assessment = assess(Fitting.model_validate(foot))
    assert disagreements(_flinch(), assessment) == []
    assert told in disagreements(_flinch().model_copy(update=change), assessment)


def test_a_good_foot_is_the_callers_own() -> None:
    good_foot("fore_tried")["shoe"]["thickness"] = 1
    assert good_foot("fore_tried")["shoe"]["thickness"] == 12


def test_a_change_of_a_nail_that_is_not_there_is_an_error() -> None:
    with pytest.raises(ValueError, match="medial:9"):
        Changes(like="fore_nailed", nail={"medial:9": {"sound": "soft"}}).applied()


def test_what_agrees_leaves_its_list_and_nothing_else_does(tmp_path: Path) -> None:
    agreeing = ["tests/a.py::test_a[A tight heel]", "tests/b.py::test_b[3.10 One thickness]"]
    lines = ["# A list.", "A tight heel", "A tight heel indeed", "", "One thickness", "thickness or so"]
    assert still_awaited(lines, agreeing) == ["# A list.", "A tight heel indeed", "", "thickness or so"]
    file = tmp_path / "awaited.txt"
    file.write_text("A tight heel\nAnother\n", encoding="utf-8")
    shorten(file, agreeing)
    assert file.read_text(encoding="utf-8") == "Another\n"
