"""Every reading of a fitting is of one named schema, and says its own range, units and words beside it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from api.application import create_app
from api.responses.rulebook import rulebook_document
from fitcheck.fitting.validation import parse_fitting
from rules import shipped_rulebook

SCHEMAS: dict[str, dict[str, Any]] = create_app().openapi()["components"]["schemas"]
REF = "#/components/schemas/"


def readings(part: Any, name: str = "Fitting") -> Iterator[tuple[str, dict[str, Any]]]:
    """Each reference to a reading under the schema ``name``, with the fields that lead to it."""
    if isinstance(part, list):
        for each in part:
            yield from readings(each, name)
    elif isinstance(part, dict):
        if part.get("$ref") == f"{REF}Reading":
            yield name, part
        elif str(part.get("$ref", "")).startswith(REF):
            yield from readings(SCHEMAS[part["$ref"].removeprefix(REF)], name)
        else:
            for key, each in part.items():
                yield from readings(each, f"{name}.{key}" if "type" in part or "anyOf" in part else f"{name}/{key}")


OF_A_BOOK = "/own."
"""What a book of one's own asks for: the book says how it is taken, and not the contract."""
FOUND = [(path, part) for path, part in readings(SCHEMAS["Fitting"]) if OF_A_BOOK not in path]


def test_there_is_one_schema_of_a_reading_and_no_reading_is_written_out() -> None:
    assert len(FOUND) > 50
    assert [part.get("$ref", part.get("type")) for part in SCHEMAS["Reading"]["anyOf"]] == [
        "number",
        f"{REF}MeasuredReading",
        "string",
    ]
    assert set(SCHEMAS["MeasuredReading"]["properties"]) == {"value", "unit", "u", "method"}
    written_out = [
        name for name, schema in SCHEMAS.items() if {"value", "unit", "u"} <= set(schema.get("properties", ()))
    ]
    assert set(written_out) <= {
        "MeasuredReading",
        "Measured",
        "Measurement",
        "ReadingExplained",
        "UncertaintyView",
        "EyeWordView",
    }


@pytest.mark.parametrize(("path", "part"), FOUND, ids=[path.rpartition("properties")[2] for path, _ in FOUND])
def test_each_reading_says_how_it_is_taken_and_what_it_may_be(path: str, part: dict[str, Any]) -> None:
    assert part["title"]
    assert " from " in part["description"]
    assert set(part) == {"$ref", "title", "description"}, path


def test_what_a_book_of_ones_own_asks_for_is_a_reading_of_which_the_contract_says_nothing_more() -> None:
    found = [part for path, part in readings(SCHEMAS["Fitting"]) if OF_A_BOOK in path]
    assert len(found) > 1  # of the foot, and at its nails
    assert all(part == {"$ref": f"{REF}Reading"} for part in found)


def test_the_words_of_a_field_stand_in_its_description() -> None:
    (length,) = [part for part in SCHEMAS["Branch"]["properties"]["length"]["anyOf"] if "$ref" in part]
    assert "By eye: right, short, long, uncovered." in length["description"]
    assert "In mm, from -80 to 120; also in cm or in." in length["description"]


def test_what_the_object_may_say_is_what_is_read() -> None:
    units = SCHEMAS["MeasuredReading"]["properties"]["unit"]["anyOf"][0]["enum"]
    taken = {"mm": 2, "cm": 0.2, "in": 0.1}
    for unit, value in taken.items():
        assert unit in units
        parse_fitting(
            {
                "foot": "left_fore",
                "stage": "nailed",
                "work": "draught",
                "observations": {"heel_fit": {"medial": {"length": {"value": value, "unit": unit, "u": 0.1}}}},
            }
        )


def test_days_times_and_ids_have_their_formats() -> None:
    fields = SCHEMAS["Assessment"]["properties"]
    assert (fields["id"]["format"], fields["created"]["format"]) == ("uuid", "date-time")
    assert SCHEMAS["NextDue"]["properties"]["date"]["format"] == "date"
    assert SCHEMAS["FootOfVisit"]["properties"]["assessment"]["format"] == "uuid"


def test_each_unit_of_the_rulebook_has_its_name_in_ucum() -> None:
    document = rulebook_document(shipped_rulebook())
    quantities = [*document.dimensions, *(each for part in document.criteria for each in part.quantities)]
    assert {each.unit: each.ucum for each in quantities if each.unit} == {
        "mm": "mm",
        "s": "s",
        "deg": "deg",
        "degC": "Cel",
        "kg": "kg",
        "1": "1",
        "d": "d",
        "mm/month": "mm/mo",
    }
