"""GET /v1/people/{person}/eye, and an assessment that names an eye."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import httpx
import jsonschema
import pytest
from fastapi import FastAPI

from api.application import create_app
from fitcheck.eye.eye import stored_eye
from fitcheck.practice import outcome_of
from fitcheck.records import Store, open_store
from fitcheck.records.backup import restore
from fitcheck.records.practice import PracticeSessions
from fitcheck.settings import ServiceSettings
from rules import localized, shipped_rulebook
from tests.support.databases import ON_POSTGRESQL
from tests.support.eye_records import keep_looks, of_a_heel
from tests.support.practised import session
from tests.support.simulated_eyes import Person

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
PERSON = Person(bias=0.6, scale=0.6, freedom=8, of_horse=0.1, drift=0.0, lapses=0.01)
ADDRESS = "/v1/people/A-3/eye"


@pytest.fixture(scope="module")
def looked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store in which A-1 sees much more than there is, A-3 errs less, and A-7 has too few pairs."""
    file = tmp_path_factory.mktemp("looked") / "records.sqlite3"
    with open_store(f"sqlite:///{file}") as store:
        for person, bias, count in (("A-7", 0.6, 3), ("A-3", PERSON.bias, 20), ("A-1", 2.5, 16)):
            keep_looks(store, person, replace(PERSON, bias=bias), count, int(person[-1]))
    assert [*file.parent.iterdir()] == [file], "not all of it is in the file"
    return file


@pytest.fixture
def store(records: str, looked: Path) -> Iterator[Store]:
    """A copy of it."""
    if not ON_POSTGRESQL:
        shutil.copy(looked, records.removeprefix("sqlite:///"))
    with open_store(records) as opened:
        if ON_POSTGRESQL:
            restore(looked, opened)
        yield opened


@pytest.fixture(scope="module")
def eye(looked: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The eye of A-3 by the tool itself."""
    file = shutil.copy(looked, tmp_path_factory.mktemp("told"))
    with open_store(f"sqlite:///{file}") as store:
        return stored_eye(store, "A-3", shipped_rulebook()).model_dump(mode="json")


def test_an_eye_follows_its_schema_and_is_told_in_the_language_asked_for(
    eye: dict[str, Any], own: Ask, app: FastAPI
) -> None:
    answer = own("GET", ADDRESS)
    assert answer.status_code == 200, answer.text
    assert answer.json() == eye
    document = app.openapi()
    schema = {"$ref": "#/components/schemas/EyeView", "components": document["components"]}
    jsonschema.validate(eye, schema)
    assert eye["person"] == "A-3"
    [width] = eye["quantities"]
    assert (width["quantity"], width["unit"]) == ("width_by_eye", "mm")
    german = own("GET", f"{ADDRESS}?lang=de")
    assert german.headers["content-language"] == "de"
    assert german.json()["version"] == eye["version"]
    assert "Worte nach Augenmaß" in german.json()["say"][0]


def test_the_curve_is_a_picture_with_a_description(eye: dict[str, Any], own: Ask) -> None:
    response = own("GET", f"{ADDRESS}/width_by_eye.svg")
    assert response.headers["content-type"] == "image/svg+xml"
    picture = ET.fromstring(response.text)  # noqa: S314  (our own)
    description = picture.findtext("{http://www.w3.org/2000/svg}desc")
    assert description == " ".join(eye["quantities"][0]["groups"][0]["say"])


def test_nobodys_eye_is_not_found(own: Ask, problem: CheckProblem) -> None:
    problem(own("GET", "/v1/people/A-9/eye"), "not-found")
    problem(own("GET", "/v1/people/A-9/eye/width_by_eye.svg"), "not-found")


@pytest.mark.parametrize("language", ["en", "de"])
def test_who_only_practised_has_an_eye_with_that_practice(store: Store, own: Ask, app: FastAPI, language: str) -> None:
    sessions = [session(1, day=1, off=1.0), session(2, "gap", day=9)]
    for each in sessions:
        PracticeSessions(store).keep("A-8", each)
    response = own("GET", f"/v1/people/A-8/eye?lang={language}")
    assert response.status_code == 200, response.text
    found = response.json()
    document = app.openapi()
    jsonschema.validate(found, {"$ref": "#/components/schemas/EyeView", "components": document["components"]})
    expected = outcome_of(sessions, localized(shipped_rulebook(), language))
    assert found["practice"] == expected.model_dump(mode="json")
    assert (found["words"], found["pairs"], found["quantities"], found["practise"]) == (0, 0, [], None)


def test_practice_stands_beside_the_pairs_and_moves_no_figure_of_them(
    eye: dict[str, Any], store: Store, own: Ask
) -> None:
    assert eye["practice"] is None
    PracticeSessions(store).keep("A-3", session(1, off=3.0))
    found = own("GET", ADDRESS).json()
    assert found.pop("practice")["exercises"][0]["exercise"] == "heel_width"
    assert found == {name: value for name, value in eye.items() if name != "practice"}


def test_an_erased_person_has_neither_pairs_nor_practice(store: Store, own: Ask, problem: CheckProblem) -> None:
    for person in ("A-3", "A-8"):
        PracticeSessions(store).keep(person, session(int(person[-1])))
        store.erase(person, reason="asked for it", created="2026-04-01T09:00:00.000Z")
        problem(own("GET", f"/v1/people/{person}/eye"), "not-found")


@pytest.mark.parametrize("keep", ["", "keep=false&"])
def test_an_assessment_names_the_eye_and_its_version(eye: dict[str, Any], own: Ask, keep: str) -> None:
    fitting = of_a_heel("tight", visit="v9", person={"id": "A-3"})
    plain = own("POST", "/v1/assessments?keep=false", json=fitting).json()
    answer = own("POST", f"/v1/assessments?{keep}eye=A-3@{eye['version']}", json=fitting)
    assert answer.status_code in {200, 201}, answer.text
    found = answer.json()
    assert found["eye"] == {"person": "A-3", "version": eye["version"]}
    [chance] = [each.pop("chance_by_eye") for each in found["findings"] if "chance_by_eye" in each]
    assert 0 < chance < 1
    assert (found["decision"], found["findings"]) == (plain["decision"], plain["findings"])
    if not keep:
        assert own("GET", answer.headers["location"]).json()["eye"]["person"] == "A-3"


def test_an_eye_of_another_or_of_another_version_is_refused(
    eye: dict[str, Any], own: Ask, problem: CheckProblem
) -> None:
    fitting = of_a_heel("tight", person={"id": "A-3"})
    for name, allowed in (
        ("A-3@0000000000000000", f"A-3@{eye['version']}"),
        ("A-9", "a person of whom GET /v1/people/{person}/eye has pairs"),
    ):
        [fault] = problem(own("POST", f"/v1/assessments?eye={name}", json=fitting), "bad-query")
        assert (fault["field"], fault["allowed"]) == ("query.eye", allowed)
    other = own("POST", "/v1/assessments?eye=A-3", json=fitting | {"person": {"id": "A-4"}})
    [fault] = problem(other, "bad-query")
    assert fault["allowed"] == "A-4"


def test_the_desk_shows_eyes_side_by_side_in_the_order_of_their_ids(own: Ask) -> None:
    page = own("GET", "/desk/eyes?assessor=S-1")
    assert page.status_code == 200, page.text
    assert re.findall(r">(A-\d)<", page.text) == ["A-1", "A-3", "A-7"]
    assert "nobody is ranked" in page.text
    assert "ranking switched on" not in page.text
    assert "more pairs are needed" in page.text
    german = own("GET", "/desk/eyes?lang=de").text
    assert "Augen nebeneinander" in german
    assert "keine Rangliste" in german
    assert "95-%-Intervall" in german
    assert "A-3" not in own("GET", "/desk/eyes?assessor=S-9").text


def test_where_a_school_switches_it_on_the_smallest_error_comes_first(
    store: Store, ask_of: Callable[[FastAPI], Ask]
) -> None:
    """The size of the error is reckoned here from what each eye says of itself."""
    settings = ServiceSettings.from_settings({"FITCHECK_RANK_EYES": "yes"})
    ask = ask_of(create_app(settings=settings, store=store))
    page = ask("GET", "/desk/eyes?assessor=S-1")
    assert page.status_code == 200, page.text
    sizes = {}
    for person in ("A-1", "A-3"):
        [width] = stored_eye(store, person, shipped_rulebook(), brief=True).quantities
        bias, spread = width.groups[0].bias, width.groups[0].spread
        assert bias is not None
        assert spread is not None
        assert bias.value is not None
        assert spread.value is not None
        sizes[person] = (bias.value**2 + spread.value**2) ** 0.5
    assert sizes["A-3"] < sizes["A-1"]
    assert re.findall(r">(A-\d)<", page.text) == ["A-3", "A-1", "A-7"]
    for size in sizes.values():
        assert re.search(rf"<td>{size:.2g}0? mm</td>", page.text)
    assert page.text.count("95 % interval") == 4
    assert "ranking switched on" in page.text
    assert "chance alone may have made the order" in page.text
    assert "nobody is ranked" not in page.text
    german = ask("GET", "/desk/eyes?lang=de").text
    assert "die Rangliste eingeschaltet" in german
    assert "Fehler eines Blicks" in german
    assert "kann allein der Zufall die Reihenfolge gemacht haben" in german
