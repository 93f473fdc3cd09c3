"""What of an assessment is kept."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import draft_of


def test_a_draft_has_the_bytes_and_what_the_fitting_says_of_itself(root: Path) -> None:
    raw = (root / "cases_demo" / "good-draught-fore.json").read_bytes()
    given = json.loads(raw)
    assessment = assess(fitting := parse_fitting(given))
    draft = draft_of(raw, fitting, assessment)
    assert draft.kind == "assessment"
    assert draft.received == raw
    assert draft.answer == assessment.model_dump_json().encode()
    assert (draft.id, draft.created, draft.decision) == (assessment.id, assessment.created, assessment.decision)
    assert draft.person == given["person"]["id"]
    assert draft.assessor == given["assessor"]["id"]
    assert draft.horse == given["horse"]["id"]
    assert (draft.foot, draft.stage, draft.visit) == (given["foot"], given["stage"], given["visit"])
    assert draft.fitted == given["observations"]["history"]["fitted"]
    assert (draft.rulebook_version, draft.rulebook_digest) == (assessment.rulebook.version, assessment.rulebook.digest)
    assert (draft.about, draft.source) == (None, None)
    assert draft_of(raw, fitting, assessment, corrects="before").about == "before"


def test_a_bare_fitting_leaves_unsaid_what_it_does_not_say() -> None:
    given = {"foot": "left_fore", "stage": "nailed", "work": "riding", "observations": {}}
    draft = draft_of(b"", fitting := parse_fitting(given), assess(fitting))
    assert (draft.person, draft.assessor, draft.horse, draft.visit, draft.fitted) == (None,) * 5
    assert (draft.external_system, draft.external_id) == (None, None)


def test_a_draft_has_the_key_that_another_system_gave() -> None:
    given = {"foot": "left_fore", "stage": "nailed", "work": "riding", "observations": {}}
    fitting = parse_fitting(given | {"external": {"system": "practice", "id": "F-1"}})
    draft = draft_of(b"", fitting, assess(fitting))
    assert (draft.external_system, draft.external_id) == ("practice", "F-1")


@pytest.mark.parametrize(
    ("horse", "name"),
    [
        ({"id": "H-017", "ueln": "276000000000001"}, "H-017"),
        ({"ueln": "276000000000001", "transponder": "276000000000002"}, "276000000000001"),
        ({"transponder": "276000000000002"}, "276000000000002"),
        ({}, None),
    ],
)
def test_a_horse_without_a_name_of_the_yard_goes_by_its_number(horse: dict[str, Any], name: str | None) -> None:
    given = {"foot": "left_fore", "stage": "nailed", "work": "riding", "horse": horse, "observations": {}}
    fitting = parse_fitting(given)
    assert draft_of(b"", fitting, assess(fitting)).horse == name
