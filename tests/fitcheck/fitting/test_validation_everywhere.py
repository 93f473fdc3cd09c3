"""fitcheck.fitting.validation: whatever the models refuse, anywhere in a fitting, is told in our own words."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from contextlib import suppress
from itertools import pairwise
from typing import Any

import pytest
from pydantic import ValidationError

from fitcheck.errors import BadInput
from fitcheck.fitting import validation as module
from fitcheck.fitting.identity import PATTERN_WORDS
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.validation import parse_fitting

BARE: dict[str, Any] = {"foot": "left_fore", "stage": "nailed", "work": "draught", "observations": {}}


def every_place() -> Iterator[tuple[tuple[str, ...], dict[str, Any]]]:
    """Each key of a fitting with its JSON schema, found in the schema rather than in the models."""
    document = Fitting.model_json_schema()

    def walk(schema: dict[str, Any], path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], dict[str, Any]]]:
        if "$ref" in schema:
            schema = document["$defs"][schema["$ref"].rsplit("/", 1)[1]]
        for part in schema.get("anyOf", ()):
            if "$ref" in part or part.get("type") in {"object", "array"}:
                yield from walk(part, path)
        if schema.get("type") == "array":
            yield (*path, "0"), schema["items"]
            yield from walk(schema["items"], (*path, "0"))
        for key, part in schema.get("properties", {}).items():
            if "method" not in schema["properties"] and "value" not in schema["properties"]:
                yield (*path, key), part
                yield from walk(part, (*path, key))
        if "propertyNames" in schema:
            for key in schema["propertyNames"]["enum"]:
                yield (*path, key), schema["additionalProperties"]

    yield from walk(document, ())


PLACES = ["/".join(path) for path, _ in every_place()]
WRONG: list[Any] = [
    3,
    -1e9,
    "¿",
    "x" * 3000,
    True,
    [],
    [[1]],
    {},
    {"¿": 1},
    [{}],
    {"value": []},
    {"value": 1, "u": -1},
    {"value": 1, "unit": ["mm"]},
    {"value": 1, "method": {"a": True}},
]
STRANGE: list[Any] = [None, "", "a\nb", float("nan"), 10**400, [1, 2, 3, 4], [{}] * 3000, "\ud800", {1: 1}]
# Of the validator and of Python, in no case of the trade.
NOT_OURS = (
    "should be", "pydantic", "valid dict", "instance of", "Input", "NoneType", "'", "dict", "List", "int_", "float",
    "str_", "True", "False", "None", "Given", "http", "^", "\\d", "class",
)  # fmt: skip


def with_value(path: list[str], value: Any) -> dict[str, Any]:
    """A fitting with nothing in it but the value at the path."""
    fitting: Any = copy.deepcopy(BARE)
    here = fitting
    for step, after in pairwise(path):
        fill: Any = [] if after == "0" else {}
        if isinstance(here, list):
            here.append(fill)
            here = here[0]
        else:
            here[step] = fill
            here = here[step]
    if isinstance(here, list):
        here.append(value)
    else:
        here[path[-1]] = value
    filled: dict[str, Any] = fitting
    return filled


def test_the_walk_over_the_models_finds_every_kind_of_key() -> None:
    assert {"foot", "observations/nails/0/hole", "observations/levelness/gaps/toe", "horse/ueln"} <= set(PLACES)
    assert {"observations/levelness/heights/0/0", "observations/outline/nail_holes/0/0", "visit"} <= set(PLACES)
    assert len(PLACES) > 70


@pytest.mark.parametrize("place", PLACES)
def test_whatever_is_wrong_anywhere_is_told_in_our_own_words(place: str) -> None:
    path = place.split("/")
    for value in WRONG:
        try:
            parse_fitting(with_value(path, value))
        except BadInput as error:
            problems = error.problems
        else:
            continue
        for problem in problems:
            json.dumps(problem.as_dict(), allow_nan=False)
            assert problem.field.split(".")[0] == path[0]
            said = f"{problem.detail} {problem.allowed}"
            # The one word with an apostrophe that we use ourselves.
            said = said.replace("reading's", "")
            assert [word for word in NOT_OURS if word in said] == []
            assert problem.detail[-1] in ".?"
            assert problem.allowed
            assert module._REFERENCE not in problem.allowed
            assert module._OTHERWISE[-30:] not in problem.detail


def test_every_kind_of_error_that_the_models_raise_has_its_own_words() -> None:
    kinds = set()
    for place in PLACES:
        path = place.split("/")
        for value in [*WRONG, *STRANGE]:
            try:
                Fitting.model_validate(with_value(path, value))
            except ValidationError as error:
                # A message that quotes half a character cannot be rendered; parse_fitting has its own test for that.
                with suppress(UnicodeEncodeError):
                    kinds |= {fault["type"] for fault in error.errors(include_url=False)}
    ours = {"reading", "day", "identity", "contradiction", "extra_forbidden", "invalid_key"}
    assert kinds - ours <= set(module._DETAILS)
    # Nothing in the table is idle.
    assert set(module._DETAILS) <= kinds


def test_every_pattern_of_the_models_has_its_words() -> None:
    patterns = {
        part["pattern"]
        for _, schema in every_place()
        for part in (schema, *schema.get("anyOf", ()))
        if "pattern" in part
    }
    assert patterns == set(PATTERN_WORDS)
