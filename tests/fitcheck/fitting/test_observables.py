"""The table of what the contract feeds: every row is true, and no reading appears outside it."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import pytest

from fitcheck.errors import BadInput
from fitcheck.fitting.foot_observations import SEEN_PLACES
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import ROWS, observables, row_of
from fitcheck.fitting.pair_rows import PAIR_ROWS
from fitcheck.fitting.readings import readings_of
from fitcheck.fitting.row import Row
from fitcheck.fitting.validation import parse_fitting
from fitcheck.measure import MEASURES, measured
from fitcheck.measure.disagreement import Double, disagreements
from fitcheck.measure.heat import heat
from fitcheck.rulebooks.examples import as_fitting, as_json
from rules import Reading, first_rulebook, shipped_rulebook, table_of
from rules.analysis import Example
from rules.analysis.contexts import is_read, ordinary_first, places_on
from rules.number_line import middle_of
from rules.situation import spot_of
from tests.support.counts import tries
from tests.support.paths import ROOT
from tests.support.random_fittings import random_fittings
from tests.support.second_contract import BARE_FOOT, NEW_FIELDS

BOOK, FIRST = shipped_rulebook(), first_rulebook()
GIVEN = [(row, spot) for row in ROWS if row.measure is None for spot in row.places]
COMPUTED = {(row.measure, row.quantity, spot) for row in ROWS if row.measure is not None for spot in row.places}
SEED = 1897
FITTINGS = tries(60, full=1_500)


SIGNS = ("crack", "bruise", "smell", "heat", "discharge", "blood")


@cache
def fittings() -> tuple[Fitting, ...]:
    """Demo feet, random ones, and demo feet with a reading given besides each that can be computed."""
    demos = [json.loads(path.read_text(encoding="utf-8")) for path in sorted((ROOT / "cases_demo").glob("*.json"))]
    raw = [each for each in demos if "foot" in each and "observations" in each]
    raw += [doubled(each) for each in raw if "outline" in each["observations"]]
    raw += random_fittings(SEED, FITTINGS)
    raw += [bare_at(middle) for middle in (-130, -60, 0, 60, 130)]
    raw += [NEW_FIELDS, whole_list_of_signs(), all_by_eye()]
    return tuple(read for each in raw if (read := accepted(each)) is not None)


def doubled(traced: Mapping[str, Any]) -> dict[str, Any]:
    """A traced foot on which everything that can be computed was read as well."""
    fitting = copy.deepcopy(dict(traced))
    seen = fitting["observations"]
    seen["heel_fit"] = {side: {"length": 10, "width": 2} for side in ("medial", "lateral")}
    seen["toe_fit"] = {"overhang": 0, "medial_overhang": 1, "lateral_overhang": 1}
    seen["levelness"] = {
        "gaps": dict.fromkeys(("toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel"), 0.1),
        "heights": [
            [x, y, 60] for x, y in ((0, 60), (50, 20), (-50, 20), (30, -55), (-30, -55), (60, -10), (-60, -10))
        ],
    }
    seen["scorch"] = {"arcs": [[-150, 150]], "coverage": 0.9}
    fitting.pop("hot_fitted", None)
    for nail in seen.get("nails") or ():
        nail |= {"position": 0.3, "hole_inset": 9}
    return fitting


def bare_at(middle: float) -> dict[str, Any]:
    arcs = [[-150, middle - 10], [middle + 10, 150]]
    return {"foot": "left_fore", "stage": "hot_fit", "work": "draught", "observations": {"scorch": {"arcs": arcs}}}


def whole_list_of_signs() -> dict[str, Any]:
    """A bare foot on which each thing that can be seen was seen at each place, in lists that are short enough."""
    signs = [{"what": what, "place": place} for what in SIGNS for place in SEEN_PLACES]
    return {**BARE_FOOT, "observations": {"seen": signs}}


def all_by_eye() -> dict[str, Any]:
    """A finished foot on which nothing was measured that the eye can judge, with what else a measure needs."""
    gaps = dict.fromkeys(("toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel"), "none")
    branch = {"length": "right", "frog_gap": "free"}
    return {
        "foot": "left_fore",
        "stage": "finished",
        "work": "draught",
        "hoof": {"wall_height": 90, "heel_height": 40, "coronet_overhang": {"lateral": 3}},
        "observations": {
            "heel_fit": {"medial": {**branch, "width": "full"}, "lateral": {**branch, "width": 3}},
            "toe_fit": {"overhang": "flush", "medial_overhang": "flush", "lateral_overhang": "flush"},
            "levelness": {"gaps": gaps},
            "nails": [{"branch": "medial", "hole": 1, "exit_height": "right", "to_white_line": "on_line"}],
            "scorch": {"coverage": "whole", "sole_scorch": "untouched", "contact_time": "few_seconds"},
        },
    }


def accepted(raw: Mapping[str, Any]) -> Fitting | None:
    try:
        fitting = parse_fitting(raw)
        measured(fitting, table_of(readings_of(fitting, BOOK)), BOOK)
    except BadInput:
        return None
    return fitting


def computed(fitting: Fitting) -> Iterator[tuple[str, str, str]]:
    """What each measure yields, by its name, quantity and place."""
    given = {(each.quantity, each.place): each for each in readings_of(fitting, BOOK)}
    table = dict(given)
    for measure in MEASURES:
        # Of the two ways to compute heat each book asks for one.
        for result in measure(fitting, table, FIRST if measure is heat else BOOK):
            if isinstance(result, Reading):
                table[result.quantity, result.place] = result
                yield measure.__name__, result.quantity, spot_of(result.place)
    doubles = [Double(given[key], table[key]) for key in given if table[key] is not given[key]]
    for result in (*disagreements(doubles, (), BOOK), *disagreements(doubles, given, BOOK)):
        yield disagreements.__name__, result.quantity, spot_of(result.place)


def values(row: Row, spot: str) -> list[float | str]:
    words = observables()[row.quantity, spot].words
    return list(words) if words else [float(middle_of(BOOK.quantities[row.quantity]))]


@pytest.mark.parametrize(("row", "spot"), GIVEN, ids=[f"{row.quantity} at {spot}" for row, spot in GIVEN])
def test_a_field_gives_its_reading_and_no_other(row: Row, spot: str) -> None:
    for place in places_on(spot):
        situation = next(
            each for each in ordinary_first(BOOK) if is_read(BOOK, observables(), row.quantity, place, each)
        )
        for value in values(row, spot):
            fitting = as_fitting(Example(situation, (Reading(row.quantity, place, value),)), BOOK)
            assert fitting is not None
            (reading,) = readings_of(parse_fitting(fitting), BOOK)
            assert (reading.quantity, reading.place, reading.value) == (row.quantity, place, value)


def test_every_listed_measure_really_computes_what_is_listed_and_nothing_else() -> None:
    assert len(fittings()) > FITTINGS / 2
    assert {found for fitting in fittings() for found in computed(fitting)} == COMPUTED


def test_no_reading_appears_outside_the_table() -> None:
    seen = set()
    for fitting in fittings():
        table, _ = measured(fitting, table_of(readings_of(fitting, BOOK)), BOOK)
        seen |= {(quantity, spot_of(place)) for quantity, place in table}
    of_a_pair = {(row.quantity, place) for row in PAIR_ROWS for place in row.at}
    # Each that is given was tried above, also where a random fitting has no such field.
    given = {(row.quantity, spot) for row, spot in GIVEN}
    assert seen | given == set(observables()) - of_a_pair
    assert of_a_pair <= set(observables())


def test_the_book_knows_all_that_can_be_read_in_the_same_units_and_words() -> None:
    for (name, spot), feed in observables().items():
        quantity = BOOK.quantities[name]
        assert spot in quantity.places
        assert quantity.unit == feed.unit
        assert set(feed.words) <= set(quantity.vocabulary)


def test_what_a_hot_shoe_leaves_is_only_given_where_the_shoe_was_hot() -> None:
    hot = {name for (name, _), feed in observables().items() if feed.where is not None}
    assert {"coverage", "contact_time", "inside_temperature", "bare_arc"} <= hot
    raw = {"foot": "left_fore", "stage": "nailed", "work": "draught", "hot_fitted": False}
    assert accepted({**raw, "observations": {}})
    assert accepted({**raw, "observations": {"scorch": {"coverage": 1}}}) is None


def test_a_field_that_gives_a_reading_goes_before_one_that_it_is_computed_from() -> None:
    for row, spot in GIVEN:
        first = row_of(row.quantity, spot)
        assert first is next(each for each, at in GIVEN if (each.quantity, at) == (row.quantity, spot))


BACKWARDS = {
    "branch_difference": 6.5,
    "height_difference": -4.2,
    "exit_ratio": 0.37,
    "evenness": 4.4,
    "nail_count": 5.0,
    "days_since_shod": 57.0,
    "growth_rate": 13.7,
    "flatness": 1.4,
    "tilt_fore_aft": -2.5,
    "tilt_sideways": 2.5,
    "bare_arc": 33.0,
}


@pytest.mark.parametrize("quantity", BACKWARDS)
def test_a_computed_reading_has_a_fitting_that_gives_it(quantity: str) -> None:
    for spot in (spot for name, spot in observables() if name == quantity):
        for place in places_on(spot):
            situation = next(
                each for each in ordinary_first(BOOK) if is_read(BOOK, observables(), quantity, place, each)
            )
            fitting = as_fitting(Example(situation, (Reading(quantity, place, BACKWARDS[quantity]),)), BOOK)
            assert fitting is not None
            read = parse_fitting(fitting)
            table, _ = measured(read, table_of(readings_of(read, BOOK)), BOOK)
            assert table[quantity, place].value == pytest.approx(BACKWARDS[quantity], abs=1e-6)


@pytest.mark.parametrize(
    ("quantity", "place", "value"),
    [
        ("nail_count", "foot", 5.5),  # no half nails
        ("inside_temperature", "foot", 50.0),  # comes of several fields at once, with an uncertainty of its own
        ("bare_arc", "foot", 20.0),  # never computed for the whole foot
        ("wall_thickness", "foot", 300.0),  # out of range
    ],
)
def test_where_no_fitting_is_known_to_give_it_the_reading_itself_is_told(
    quantity: str, place: str, value: float
) -> None:
    example = Example(ordinary_first(BOOK)[0], (Reading(quantity, place, value),))
    assert as_fitting(example, BOOK) is None
    assert as_json(example, BOOK)["readings"] == [{"quantity": quantity, "place": place, "value": value}]
    assert as_json(example, BOOK)["situation"]["stage"] == ordinary_first(BOOK)[0].stage
