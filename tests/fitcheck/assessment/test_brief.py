"""The brief answer says what the whole one does, and less."""

from __future__ import annotations

import pytest

from api.openapi.examples import EXAMPLES
from fitcheck.assessment.assess import assess
from fitcheck.assessment.brief import assess_briefly, brief_of
from fitcheck.fitting.validation import parse_fitting
from rules import localized, shipped_rulebook
from tests.support.random_fittings import random_fittings

_SAME = {"id": "", "created": ""}


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_brief_answer_is_the_whole_one_in_short(language: str) -> None:
    book = localized(shipped_rulebook(), language)
    fittings = [parse_fitting(example.fitting) for example in EXAMPLES]
    decisions = set()
    for fitting in (*fittings, *(parse_fitting(each) for each in random_fittings(7, 60))):
        whole = assess(fitting, book)
        brief = assess_briefly(fitting, book)
        assert brief.model_copy(update=_SAME) == brief_of(whole, book).model_copy(update=_SAME)
        assert [(each.rule, each.place, each.grade, each.say) for each in brief.findings] == [
            (each.rule, each.place, each.grade, each.finding) for each in whole.findings
        ]
        needed = tuple(dict.fromkeys(each.say for each in whole.still_needed))
        assert brief.steps == (needed if whole.decision == "incomplete" else whole.actions)
        assert set(brief.cautions) <= set(whole.cautions)
        assert {each.caution for each in whole.findings if each.grade == "critical"} <= set(brief.cautions)
        decisions.add(whole.decision)
    assert decisions >= {"go_on", "put_right", "stop_and_refer", "incomplete"}


def test_that_nothing_is_a_diagnosis_is_told_however_short_the_answer() -> None:
    book = shipped_rulebook()
    for example in EXAMPLES:
        assert book.standing["no_diagnosis"].text in assess_briefly(parse_fitting(example.fitting), book).cautions
