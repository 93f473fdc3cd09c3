"""What the page takes from the table of observables: all of it, and nothing of it by hand besides."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from api.page.write_observables import LISTS, SCRIPT, lists, script
from fitcheck.fitting.observables import INPUT_ROWS, ROWS, observables
from fitcheck.fitting.row import Row


def entries() -> dict[str, dict[str, Any]]:
    found = re.findall(r"^  (\w+): (\{.*\}),$", script(), re.MULTILINE)
    return {name: json.loads(entry) for name, entry in found}


def asked() -> list[Row]:
    """The rows of what can be stated, each quantity by one field."""
    return [row for row in ROWS if row.measure is None and row.asked]


def test_the_shipped_script_is_the_tables() -> None:
    assert SCRIPT.read_text(encoding="utf-8") == script()
    assert LISTS.read_text(encoding="utf-8") == lists()


def test_every_field_of_the_table_is_there_with_its_place_and_unit() -> None:
    written = entries()
    for row in asked():
        entry = written[row.quantity]
        assert entry["unit"] == observables()[row.quantity, row.places[0]].unit
        places = {field["place"]: field["path"].replace("{nail}", "0") for field in entry["fields"]}
        assert {place: row.at(place) for place in row.places}.items() <= places.items()
    fields = {field["path"] for entry in written.values() for field in entry["fields"]}
    for each in (row for row in INPUT_ROWS if row.asked):
        assert each.field.replace("{side}", "lateral") in fields


def test_what_is_stated_has_the_control_and_the_words_that_ask_for_it() -> None:
    written = entries()
    stated = {name: entry["control"] for name, entry in written.items() if "control" in entry}
    assert stated.keys() == {row.quantity for row in asked()} | {"old_hole_drop"}
    assert (stated["length"], stated["clip"], stated["rocks"]) == ("number", "choice", "flag")
    assert written["length"]["fields"][0]["words"] == ["right", "short", "long", "uncovered"]
    assert [field["words"] for field in written["overhang"]["fields"]] == [
        ["flush", "over", "set_back"],
        ["flush", "over", "inside"],
        ["flush", "over", "inside"],
    ]
    assert written["gap"]["fields"][0]["words"] == ["none", "daylight", "open"]
    assert written["wall_angle"]["fields"][0]["words"] == []


def test_what_is_a_list_of_places_is_there_with_its_places_and_words() -> None:
    found = {name: json.loads(entry) for name, entry in re.findall(r"^  (\w+): (\{.*\}),$", lists(), re.MULTILINE)}
    rows = [row for row in ROWS if row.measure in {"dark", "seen"}]
    assert found.keys() == {row.quantity for row in rows}
    for row in rows:
        assert (found[row.quantity]["path"], found[row.quantity]["places"]) == (row.field, list(row.places))
    assert found["seen_crack"]["what"] == "crack"
    assert found["seen_crack"]["words"] == ["seen", "deep", "examined"]
    assert "words" not in found["dark_patch"]
    assert 'OF_A_CLIP = {"state": "clip", "height": "clip_height"}' in lists()


def test_what_is_read_and_computed_is_the_tables() -> None:
    listed = re.findall(r"^  (\[.*\]),$", script(), re.MULTILINE)
    rows = [json.loads(each) for each in listed]
    assert rows == [
        [row.quantity, list(row.places), row.field]
        for computed in (False, True)
        for row in ROWS
        if (row.measure is not None) is computed
    ]


def test_what_only_enters_a_computation_is_asked_for_under_what_it_is_for() -> None:
    written = entries()
    assert written["height_difference"]["fields"] == [
        {"path": "observations.levelness.medial_height", "place": "medial_quarter"},
        {"path": "observations.levelness.lateral_height", "place": "lateral_quarter"},
    ]
    assert written["exit_ratio"] == {
        "unit": "mm",
        "fields": [{"path": "observations.nails.{nail}.wall_height", "place": "nail"}],
    }
    assert written["last_shod"]["fields"] == [{"path": "observations.history.last_shod", "place": "foot"}]


@pytest.mark.parametrize("path", sorted(SCRIPT.parent.rglob("*.js")), ids=lambda path: path.name)
def test_no_other_script_has_a_path_by_hand(path: Any) -> None:
    code = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    if path not in {SCRIPT, LISTS}:
        assert not re.findall(r"""["'`](?:observations|hoof|shoe)\.[\w.${}]+""", code)
