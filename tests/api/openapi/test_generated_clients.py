"""Clients that others generate from the OpenAPI document read and write what the service takes and answers.

By two generators, openapi-python-client (attrs) and datamodel-code-generator (pydantic): fittings and answers of the
first contract, and of the second with what follows another assessment.
"""

from __future__ import annotations

import importlib
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime
from itertools import islice
from pathlib import Path
from types import ModuleType
from typing import Any, Final

import pytest

from api.application import create_app
from fitcheck import BadInput, Followed, assess, explain, first_rulebook, follow, parse_fitting
from tests.contract_one.corpus import bodies
from tests.endurance.mutations import followed_body
from tests.support.kept_fittings import demo_bodies

EVERY: Final = 25
"""Of the first contract's corpus one fitting in so many is read."""
Document = dict[str, Any]
Pairs = list[tuple[Document, Document]]


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of the OpenAPI document."""
    file = tmp_path_factory.mktemp("document") / "openapi.json"
    file.write_text(json.dumps(create_app().openapi()), encoding="utf-8")
    return file


def generated(folder: Path, *command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", *command], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def attrs_client(document: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[ModuleType]:
    """The models of openapi-python-client."""
    folder = tmp_path_factory.mktemp("attrs")
    (folder / "config.yaml").write_text("post_hooks: []\n", encoding="utf-8")
    words = ("generate", "--meta", "none", "--path", str(document), "--output-path", "attrs_client")
    generated(folder, "openapi_python_client", *words, "--config", "config.yaml")
    yield from _imported(folder, "attrs_client.models")


@pytest.fixture(scope="module")
def pydantic_client(document: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[ModuleType]:
    """The models of datamodel-code-generator."""
    folder = tmp_path_factory.mktemp("pydantic")
    words = ("--input", str(document), "--input-file-type", "openapi", "--output", "pydantic_client.py")
    kind = ("--output-model-type", "pydantic_v2.BaseModel", "--formatters", "builtin")
    generated(folder, "datamodel_code_generator", *words, *kind)
    yield from _imported(folder, "pydantic_client")


def _imported(folder: Path, name: str) -> Iterator[ModuleType]:
    sys.path.insert(0, str(folder))
    try:
        yield importlib.import_module(name)
    finally:
        sys.path.remove(str(folder))


@pytest.fixture(scope="module")
def first() -> Pairs:
    """Fittings of the first contract, with what its rulebook answers."""
    book = first_rulebook()
    found: Pairs = []
    for _, body in islice(bodies(), 0, None, EVERY):
        try:
            raw = json.loads(body)
            found.append((raw, assess(parse_fitting(raw, book), book).model_dump(mode="json")))
        except (ValueError, BadInput):
            continue
    assert len(found) > 20
    return found


@pytest.fixture(scope="module")
def second() -> Pairs:
    """Fittings of the second contract, with what is answered: also explained, and after another assessment."""
    raws = [json.loads(body) for body in demo_bodies()]
    found = [(raw, explain(parse_fitting(raw)).model_dump(mode="json")) for raw in raws]
    raw = json.loads(followed_body())
    fitting = parse_fitting(raw)
    before = Followed(fitting, assess(fitting))
    found.append((raw, before.assessment.model_dump(mode="json")))
    again = {"foot": raw["foot"], "stage": "nailed", "follows": before.assessment.id, "observations": {}}
    after = assess(follow(again, before)).model_dump(mode="json")
    assert after["retry"]
    assert any(each.get("carried") for each in after["measurements"])
    return [*found, (again, after)]


ANSWERS: Final = ("first", "second")
_TIME: Final = re.compile(r"\d{4}-\d\d-\d\dT")


def same(before: Any, after: Any) -> bool:
    """Whether two JSON values are the same; a number is as large, and a time as late, however it is written."""
    if isinstance(before, dict) and isinstance(after, dict):
        return before.keys() == after.keys() and all(same(before[key], after[key]) for key in before)
    if isinstance(before, list) and isinstance(after, list):
        return len(before) == len(after) and all(map(same, before, after))
    if isinstance(before, str) and isinstance(after, str) and _TIME.match(before):
        return datetime.fromisoformat(before) == datetime.fromisoformat(after)
    return bool(before == after)


@pytest.mark.parametrize("which", ANSWERS)
def test_an_attrs_client_reads_answers_and_sends_fittings_whole(
    which: str, attrs_client: ModuleType, request: pytest.FixtureRequest
) -> None:
    for raw, answer in request.getfixturevalue(which):
        model = attrs_client.ExplainedAssessment if "explanation" in answer else attrs_client.Assessment
        assert same(model.from_dict(answer).to_dict(), answer)
        assert same(attrs_client.Fitting.from_dict(raw).to_dict(), raw)


@pytest.mark.parametrize("which", ANSWERS)
def test_a_pydantic_client_reads_answers_and_sends_fittings_whole(
    which: str, pydantic_client: ModuleType, request: pytest.FixtureRequest
) -> None:
    for raw, answer in request.getfixturevalue(which):
        model = pydantic_client.ExplainedAssessment if "explanation" in answer else pydantic_client.Assessment
        for kind, sent in ((model, answer), (pydantic_client.Fitting, raw)):
            assert same(kind.model_validate(sent).model_dump(mode="json", by_alias=True, exclude_unset=True), sent)


def test_a_reading_is_one_type_and_no_field_has_a_type_of_its_own(
    document: Path, attrs_client: ModuleType, pydantic_client: ModuleType
) -> None:
    assert pydantic_client.Reading is not None
    schemas = json.loads(document.read_text(encoding="utf-8"))["components"]["schemas"]
    named = {name for name, field in schemas["Branch"]["properties"].items() if "$ref" in json.dumps(field)}
    assert named == set(schemas["Branch"]["properties"]) - {"as_before"}
    for module in (attrs_client, pydantic_client):
        of_readings = {name for name in vars(module) if "Reading" in name}
        assert {"MeasuredReading"} <= of_readings
        assert not [name for name in vars(module) if name.startswith(("BranchLength", "NailExitHeight", "LengthType"))]


def test_ids_times_and_days_have_types_of_their_own(attrs_client: ModuleType, second: Pairs) -> None:
    read = attrs_client.Assessment.from_dict(second[-1][1])
    assert (type(read.id).__name__, type(read.created).__name__) == ("UUID", "datetime")
    due = next(answer["next_due"] for _, answer in second if answer["next_due"])
    assert type(attrs_client.NextDue.from_dict(due).date).__name__ == "date"
