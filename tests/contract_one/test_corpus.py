"""What a client of the first contract sends is read and answered as when release 1.0.0 was the newest.

What is meant to change stands in ``changes.toml``; ``python -m tests.contract_one check`` prints what did.
"""

from __future__ import annotations

import ast
import json
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from tests.contract_one.corpus import (
    COUNT,
    answer_of,
    bodies,
    changed_fields,
    differences,
    first_book,
    line_of,
    lines,
    read_answers,
)
from tests.contract_one.generator import KINDS, fittings
from tests.contract_one.meant import meant_changes
from tests.contract_one.released import released_openapi, request_schema
from tests.support.counts import tries

FROZEN = read_answers()
BODIES = dict(bodies())
TYPES = {str: "string", bool: "boolean", int: "number", float: "number"}


def test_every_fitting_is_answered_as_it_was() -> None:
    """Every one in a study, else every third."""
    step = tries(3, full=1)
    changed = differences(FROZEN[::step], lines(step))
    meant = meant_changes("answers")
    assert {field: names[:3] for field, names in changed.items() if field not in meant} == {}
    assert meant - set(changed) == set(), "nothing changes there any more: take the entry out"


def test_the_corpus_is_the_demo_feet_of_the_release_and_a_thousand_others() -> None:
    assert len(BODIES) == len(FROZEN) == 23 + COUNT
    assert Counter(line["decision"] for line in FROZEN).keys() == {
        "release",
        "put_right",
        "stop_and_refer",
        "incomplete",
    }
    assert min(Counter(line["decision"] for line in FROZEN).values()) > 20
    book = first_book()
    single = {rule for rule, record in book.rules.items() if not record.quantity.endswith("_apart")}
    found = {rule for line in FROZEN for rule, _, _ in line["findings"]}
    assert (single | set(book.joined)) - found == set()


def test_the_generator_knows_nothing_of_the_product_and_draws_alike_everywhere() -> None:
    source = Path(sys.modules[fittings.__module__].__file__ or "").read_text(encoding="utf-8")
    tree = ast.walk(ast.parse(source))
    imported = {
        name.partition(".")[0]
        for node in tree
        for name in (
            [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else []
        )
    }
    assert imported <= sys.stdlib_module_names
    used = {
        node.attr
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Attribute) and ast.unparse(node.value).endswith("rng")
    }
    assert used == {"random"}
    assert [name for name, _ in fittings(len(KINDS))] == [f"{kind}-{number:04}" for number, kind in enumerate(KINDS)]


def test_the_corpus_says_all_that_the_first_contract_can_say() -> None:
    sayable = set(_sayable(request_schema(), ""))
    said = {each for body in BODIES.values() for each in _said(json.loads(body), "")}
    assert ("observations.nails[].clinch", "pulled") in sayable
    assert ("hoof.sole_thickness.unit", "in") in sayable
    assert sayable - said == set()


def test_every_fitting_of_the_corpus_is_one_of_the_released_document() -> None:
    validator = jsonschema.Draft202012Validator(
        {"$ref": "#/components/schemas/Fitting", "components": released_openapi()["components"]}
    )
    for name in [name for number, name in enumerate(BODIES) if number % 6 == number // 6 % 6]:
        assert list(validator.iter_errors(json.loads(BODIES[name]))) == [], name


@pytest.mark.parametrize(
    ("change", "fields"),
    [
        ({"decision": "release"}, ["decision"]),
        ({"not_assessed": []}, ["not_assessed", "not_assessed[]"]),
        ({"next": None}, ["next"]),
        ({"foot": ...}, ["foot"]),
        ({"findings": 0}, ["findings[].action"]),
        ({"conforms": "turned round"}, ["conforms[].criterion", "conforms[].place", "conforms[].quantity"]),
    ],
)
def test_a_change_is_named_by_its_field(change: dict[str, Any], fields: list[str]) -> None:
    body = BODIES["high-nail"]
    answer = answer_of(body, first_book())
    was = line_of("high-nail", body, answer)
    assert changed_fields(was, was) == []
    changed = {key: value for key, value in (answer | change).items() if value is not ...}
    if "findings" in change:
        first, *others = answer["findings"]
        changed["findings"] = [{**first, "action": "Leave it."}, *others]
    if "conforms" in change:
        changed["conforms"] = answer["conforms"][::-1]
    assert changed_fields(was, line_of("high-nail", body, changed)) == fields


def test_another_fitting_in_the_place_of_one_is_no_change_of_its_answer() -> None:
    with pytest.raises(ValueError, match="not the fitting that was frozen"):
        differences(FROZEN[:1], FROZEN[1:2])


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("[[answer]]\nwhat = 'x'\nwhy = 'y'", "unknown in changes.toml: answer"),
        ("[[answers]]\nwhat = 'x'", "has what and why"),
        ("[[answers]]\nwhat = 'x'\nwhy = ' '", "has what and why"),
        ("[[answers]]\nwhat = 'x'\nwhy = 'y'\n[[answers]]\nwhat = 'x'\nwhy = 'z'", "twice"),
    ],
)
def test_a_meant_change_has_its_reason(text: str, fault: str) -> None:
    with pytest.raises(ValueError, match=fault):
        meant_changes("answers", text)
    assert meant_changes("answers", "[[answers]]\nwhat = 'x'\nwhy = 'y'") == {"x"}


def _sayable(schema: dict[str, Any], path: str) -> Iterator[tuple[str, Any]]:
    """Each word, type and null that the schema takes, with its path."""
    if "$ref" in schema:
        schema = request_schema(schema["$ref"].rpartition("/")[2])
    for one in schema.get("anyOf", ()):
        yield from _sayable(one, path)
    if schema.get("type") == "null":
        yield path, None
    elif "enum" in schema:
        yield from ((path, word) for word in schema["enum"])
    elif (kind := schema.get("type")) in {"number", "integer", "string", "boolean"}:
        yield path, "number" if kind == "integer" else kind
    for name, part in schema.get("properties", {}).items():
        yield from _sayable(part, f"{path}.{name}".lstrip("."))
    if isinstance(schema.get("additionalProperties"), dict):
        for name in schema["propertyNames"]["enum"]:
            yield from _sayable(schema["additionalProperties"], f"{path}.{name}")
    if "items" in schema:
        yield from _sayable(schema["items"], f"{path}[]")


def _said(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for name, part in value.items():
            yield from _said(part, f"{path}.{name}".lstrip("."))
    elif isinstance(value, list):
        for part in value:
            yield from _said(part, f"{path}[]")
    else:
        yield path, value
        if value is not None:
            yield path, TYPES[type(value)]
