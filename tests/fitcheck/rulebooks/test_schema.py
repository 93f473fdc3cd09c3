"""The JSON Schemas of a rulebook's files: they take what loads, refuse what does not, and describe every key."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from fitcheck.rulebooks.schema import FOLDER, kind_of, schemas

_ROOT = Path(__file__).parents[3]
_BOOKS = {"whole": ("rules/book", "rules/first_book"), "own": ("cases_demo/yard_book",)}
_FILES = [
    pytest.param(state, file, id=f"{file.parent.name}/{file.name}")
    for state, folders in _BOOKS.items()
    for folder in folders
    for file in sorted((_ROOT / folder).glob("*.toml"))
]


def _validator(state: str, file: str) -> Draft202012Validator:
    schema = json.loads((FOLDER / state / f"{kind_of(file)}.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.mark.parametrize(("state", "file"), _FILES)
def test_a_file_that_loads_fits_its_schema(state: str, file: Path) -> None:
    table = tomllib.loads(file.read_text(encoding="utf-8"))
    assert not [error.message for error in _validator(state, file.name).iter_errors(table)]


def test_what_is_written_is_what_the_models_say() -> None:
    written = {
        str(path.relative_to(FOLDER).with_suffix("")): json.loads(path.read_text(encoding="utf-8"))
        for path in FOLDER.rglob("*.json")
    }
    assert written == dict(schemas())


@pytest.mark.parametrize(
    ("state", "file", "text"),
    [
        ("own", "heel_fit.toml", "[rules.heel-short]\nhigg = 3.0"),
        ("own", "heel_fit.toml", "[rules.heel-short]\ngrade = 'grave'"),
        ("own", "heel_fit.toml", "[rules.heel-short]\nlow = 'three'"),
        ("own", "heel_fit.toml", "[rule.heel-short]\nlow = 3.0"),
        ("own", "book.toml", "[book]\nid = 'x'\ntitle = 'X'\nversion = '1'\ninherits = 'shipped'"),
        ("whole", "sources.toml", "[sources.X]\nyear = '2026'"),
    ],
)
def test_a_mistake_does_not_fit(state: str, file: str, text: str) -> None:
    assert list(_validator(state, file).iter_errors(tomllib.loads(text)))


def test_a_limit_may_be_text_in_inches_and_a_side_that_of_the_stance() -> None:
    text = "[rules.heel-short]\nlow = '1 5/8 in'\napplies = [{ side = ['full'] }]"
    assert not list(_validator("own", "heel_fit.toml").iter_errors(tomllib.loads(text)))


def _undescribed(schema: Any, path: str = "") -> Iterator[str]:
    if isinstance(schema, dict):
        for name, part in schema.get("properties", {}).items():
            if not part.get("description"):
                yield f"{path}.{name}"
        for name, part in schema.items():
            yield from _undescribed(part, f"{path}.{name}")


def test_every_key_is_described() -> None:
    assert not [key for path, schema in schemas() for key in _undescribed(schema, path)]
