"""What the page takes from the table of observables: all of it, and nothing of it by hand besides."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from api.page.write_observables import SCRIPT, script
from fitcheck.fitting.observables import INPUT_ROWS, ROWS, Row, observables
from rules import shipped_rulebook

STEPS = SCRIPT.with_name("steps.js")


def entries() -> dict[str, dict[str, Any]]:
    found = re.findall(r"^  (\w+): (\{.*\}),$", script(), re.MULTILINE)
    return {name: json.loads(entry) for name, entry in found}


def asked() -> list[Row]:
    """The rows of what the shipped rulebook judges, each quantity by one field."""
    judged = {name for name, quantity in shipped_rulebook().quantities.items() if quantity.judged is not False}
    return [row for row in ROWS if row.measure is None and row.asked and row.quantity in judged]


def test_what_is_only_kept_or_has_another_field_is_not_asked_by_the_page() -> None:
    left_out = {row.field for row in ROWS if row.measure is None} - {row.field for row in asked()}
    assert {"hoof.toe_angle", "observations.going.trot_up", "observations.dressing.axis", "shoe.web"} <= left_out
    assert not any(field in script() for field in left_out)
    assert '"dressed"' not in script()


def test_the_shipped_script_is_the_tables() -> None:
    assert SCRIPT.read_text(encoding="utf-8") == script()


def test_every_field_of_the_table_is_there_with_its_place_and_unit() -> None:
    written = entries()
    for row in asked():
        entry = written[row.quantity]
        assert entry["unit"] == observables()[row.quantity, row.places[0]].unit
        places = {
            field["place"]: field.get("path", f"observations.nails.0.{field.get('key')}") for field in entry["fields"]
        }
        assert {place: row.at(place) for place in row.places}.items() <= places.items()
    fields = {field.get("path", field.get("key")) for entry in written.values() for field in entry["fields"]}
    for each in (row for row in INPUT_ROWS if row.asked):
        assert each.field.removeprefix("observations.nails.{nail}.").replace("{side}", "lateral") in fields


def test_what_is_stated_has_the_control_and_the_criterion_that_ask_for_it() -> None:
    written = entries()
    stated = {name: (entry["control"], entry["criterion"]) for name, entry in written.items() if "control" in entry}
    assert stated.keys() == {row.quantity for row in asked()} | {"old_hole_drop"}
    assert stated["length"] == ("number", "heel_fit")
    assert stated["clip"] == ("choice", "toe_fit")
    assert stated["rocks"] == ("flag", "levelness")
    assert stated["wall_angle"] == ("number", None)


def test_what_only_enters_a_computation_is_asked_for_under_what_it_is_for() -> None:
    written = entries()
    assert written["height_difference"]["fields"] == [
        {"path": "observations.levelness.medial_height", "place": "medial_quarter"},
        {"path": "observations.levelness.lateral_height", "place": "lateral_quarter"},
    ]
    assert written["exit_ratio"] == {"unit": "mm", "fields": [{"key": "wall_height", "place": "nail"}]}
    assert written["last_shod"]["fields"] == [{"path": "observations.history.last_shod", "place": "foot"}]


def placed() -> set[str]:
    """What the steps that are laid out by hand ask."""
    text = STEPS.read_text(encoding="utf-8")
    named = set(re.findall(r'\basks\("(\w+)"', text))
    return named | {name for names in re.findall(r"\basksNails\((\[.*?\])", text) for name in json.loads(names)}


def test_the_steps_name_only_what_the_table_has() -> None:
    assert len(placed()) > 25
    assert placed() <= entries().keys()


def test_a_quantity_without_a_place_in_the_steps_is_the_foots_and_has_a_heading() -> None:
    headings = json.loads((SCRIPT.parents[1] / "messages" / "en.json").read_text(encoding="utf-8"))
    for name, entry in entries().items():
        if "control" in entry and name not in placed():
            assert all("path" in field for field in entry["fields"]), f"{name}: a row of steps.js asks it of each nail"
            assert f"step.{name}" in headings, f"{name}: its heading is missing in the page's messages"


@pytest.mark.parametrize("path", sorted(SCRIPT.parent.rglob("*.js")), ids=lambda path: path.name)
def test_no_other_script_has_a_path_by_hand(path: Any) -> None:
    code = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    if path != SCRIPT:
        assert not re.findall(r"""["'`](?:observations|hoof|shoe)\.[\w.${}]+""", code)
