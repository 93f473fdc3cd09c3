"""The reader of answers of the first shape stays as it is: it reads what release 1.0.0 kept, and nothing else."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from pydantic import ValidationError

from fitcheck import assess, first_rulebook, follow, parse_fitting
from fitcheck.assessment.following import Followed
from fitcheck.assessment.models import Assessment
from fitcheck.records.answer_shape import FIRST, SECOND, shape_of
from fitcheck.stored import first_shape
from fitcheck.stored.first_shape import read_first
from tests.contract_one.kept import records_kept

Changed = Callable[..., dict[str, Any]]


def kept_answers() -> list[str]:
    return [record["answer"] for record in records_kept() if record["kind"] == "assessment" and not record["erased"]]


def test_it_reads_every_answer_that_release_one_kept() -> None:
    answers = kept_answers()
    assert len(answers) == 37
    for answer in answers:
        assert shape_of(json.loads(answer)) == FIRST
        assert read_first(answer.encode()).model_dump_json() == answer


def test_by_the_first_rulebook_answers_still_have_the_first_shape(changed: Changed) -> None:
    for edits in ({}, {"stage": "nailed"}, {"observations__heel_fit__medial__width": -3}, {"shoe": ...}):
        told = assess(parse_fitting(changed(**edits), first_rulebook()), first_rulebook())
        answer = told.model_dump_json()
        assert shape_of(json.loads(answer)) == FIRST
        assert read_first(answer.encode()) == told
    bare = {"foot": "left_fore", "stage": "dressed", "work": "riding", "observations": {}}
    told = assess(parse_fitting(bare, first_rulebook()), first_rulebook())
    assert read_first(told.model_dump_json().encode()) == told


def test_an_answer_of_the_second_shape_says_so_by_its_keys(good: dict[str, Any]) -> None:
    fitting = parse_fitting(good)
    told = assess(fitting)
    after = follow({"foot": "left_fore", "stage": "finished", "observations": {}}, Followed(fitting, told))
    for book in (None, first_rulebook()):
        answers = [assess(after, book)] if book else [told, assess(after)]
        for each in answers:
            answer = each.model_dump_json()
            assert shape_of(json.loads(answer)) == SECOND
            assert Assessment.model_validate_json(answer) == each
            with pytest.raises(ValidationError):
                read_first(answer.encode())


def test_its_models_stand_in_its_own_module() -> None:
    """What it checks answers by is none of the models of today."""
    for owner in (first_shape._Answer, first_shape._Finding, first_shape._Measurement):
        for field in owner.model_fields.values():
            assert "fitcheck.assessment" not in repr(field.annotation)
