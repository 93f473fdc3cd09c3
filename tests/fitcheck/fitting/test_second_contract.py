"""What the second contract adds to a fitting: each field, its range and words, the old names, and what contradicts."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.errors import BadInput, Problem
from fitcheck.explanation.explain import explain
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import ROWS
from fitcheck.fitting.readings import readings_of
from fitcheck.fitting.validation import parse_fitting
from fitcheck.measure import measured
from rules import Rulebook, Table, first_rulebook, shipped_rulebook, table_of
from tests.support.second_contract import BARE_FOOT, NEW_FIELDS

FIRST, SHIPPED = first_rulebook(), shipped_rulebook()
OF_FIRST = {"hoof": {}, "shoe": {}, "observations": {}, "foot": "left_fore", "stage": "finished", "work": "draught"}


def read(raw: dict[str, Any], book: Rulebook = SHIPPED) -> Table:
    fitting = parse_fitting(raw, book)
    table, _ = measured(fitting, table_of(readings_of(fitting, book)), book)
    return table


def value(raw: dict[str, Any], quantity: str, place: str, book: Rulebook = SHIPPED) -> float | str | None:
    found = read(raw, book).get((quantity, place))
    return None if found is None else found.value


def put(path: str, new: Any, base: dict[str, Any] = OF_FIRST) -> dict[str, Any]:
    """``base`` with ``new`` at a dotted path, numbers for places in lists; what is missing on the way is made."""
    raw = copy.deepcopy(base)
    *parents, last = path.split(".")
    here: Any = raw
    for step in parents:
        here = here[int(step)] if isinstance(here, list) else here.setdefault(step, {})
    here[int(last) if isinstance(here, list) else last] = new
    return raw


def told(raw: dict[str, Any], book: Rulebook = SHIPPED) -> tuple[Problem, ...]:
    with pytest.raises(BadInput) as caught:
        parse_fitting(raw, book)
    return tuple(caught.value.problems)


@pytest.mark.parametrize("book", [FIRST, SHIPPED], ids=lambda book: book.version)
@pytest.mark.parametrize("raw", [NEW_FIELDS, BARE_FOOT], ids=["every field", "bare foot"])
def test_every_field_is_read_written_and_read_again(raw: dict[str, Any], book: Rulebook) -> None:
    fitting = parse_fitting(raw, book)
    again = parse_fitting(json.loads(fitting.model_dump_json(exclude_none=True, by_alias=True)), book)
    assert again == fitting
    assert explain(fitting, book).decision == assess(fitting, book).decision


def test_every_row_of_the_second_contract_has_a_reading_in_the_two_fittings() -> None:
    seen = {quantity for raw in (NEW_FIELDS, BARE_FOOT) for quantity, _ in read(raw)}
    known = [row.quantity for row in ROWS if row.quantity in SHIPPED.quantities]
    lacking = {name for name in known if SHIPPED.quantities[name].judged is not True} - seen
    by_eye = {name for name in lacking if SHIPPED.quantities[name].eye_of}
    assert lacking - by_eye == {"exit_ratio", "position"}, "of the first contract, kept to compute others from"


def test_what_the_first_rulebook_does_not_know_is_no_reading_of_it() -> None:
    known = {quantity for quantity, _ in read(NEW_FIELDS, FIRST)}
    assert known <= set(FIRST.quantities)
    assert {"width_least", "clip", "trot_up", "contact_time", "wall_angle", "sole_pressure"} <= known
    answer = assess(parse_fitting(NEW_FIELDS, FIRST), FIRST).model_dump(mode="json")
    assert not {each["quantity"] for each in answer["measurements"]} - set(FIRST.quantities)


@pytest.mark.parametrize(
    ("path", "new", "quantity", "place", "expected"),
    [
        ("hoof.toe_angle", 50, "wall_angle", "foot", 50.0),
        ("observations.going.trot_up", "lame", "trot_up", "foot", "lame"),
        ("observations.levelness.sole_pressure", True, "sole_pressure", "sole", "yes"),
        ("observations.toe_fit.clips", [{"at": "toe", "state": "proud"}], "clip", "toe", "proud"),
        ("observations.toe_fit.clips", [{"at": "toe", "height": 9}], "clip_height", "toe", 9.0),
        ("observations.toe_fit.clips", [], "clip", "toe", "none"),
        ("observations.toe_fit.clips", [{"at": "lateral_toe", "state": "proud"}], "clip", "toe", None),
        ("observations.scorch.holds", [{"start": 0, "seconds": 6}], "contact_time", "foot", 6.0),
        ("observations.scorch.holds", [{"start": 0, "seconds": 6, "heat": "bright"}], "shoe_heat", "foot", "bright"),
        ("observations.heel_fit.medial.width_least", -1, "width_least", "medial_heel", -1.0),
        ("observations.toe_fit.lateral_overhang_least", -1, "overhang_least", "lateral_quarter", -1.0),
    ],
)
@pytest.mark.parametrize("book", [FIRST, SHIPPED], ids=lambda book: book.version)
def test_what_the_first_contract_had_under_another_name_is_the_same_reading(
    path: str, new: Any, quantity: str, place: str, expected: float | str | None, book: Rulebook
) -> None:
    assert value(put(path, new), quantity, place, book) == expected


@pytest.mark.parametrize(
    ("path", "new", "quantity", "place", "expected"),
    [
        ("hoof.coronet_overhang", {"medial": -3}, "coronet_overhang", "medial_heel", -3.0),
        ("shoe.calks", {"toe": 10}, "calk", "toe", 10.0),
        ("shoe.calks", {"lateral": 10}, "calk", "lateral_heel", 10.0),
        ("shoe.weight", {"value": 1.5, "unit": "kg"}, "shoe_weight", "foot", 1.5),
        ("observations.nails", [{"branch": "medial", "hole": 2, "head": "loose"}], "head", "nail:medial:2", "loose"),
        ("observations.nails_even", {"lateral": "uneven"}, "nails_even", "lateral_quarter", "uneven"),
        ("observations.toe_fit.clips", [{"at": "medial_toe", "state": "proud"}], "clip", "medial_toe", "proud"),
        ("observations.seen", [{"what": "heat", "place": "foot"}], "seen_heat", "foot", "seen"),
        ("observations.seen", [{"what": "crack", "place": "toe", "deep": True}], "seen_crack", "toe", "deep"),
        (
            "observations.seen",
            [{"what": "crack", "place": "toe", "deep": True, "examined": True}],
            "seen_crack",
            "toe",
            "examined",
        ),
        ("observations.scorch.dark", ["toe"], "dark_patch", "toe", "yes"),
        ("observations.scorch.dark", ["toe"], "dark_patch", "medial_heel", "no"),
        ("observations.scorch.dark", [], "dark_patch", "toe", "no"),
        ("observations.dressing.sole", "cut_thin", "dressed_sole", "sole", "cut_thin"),
        ("observations.old_shoe.wear", "toe", "old_wear", "foot", "toe"),
        ("observations.going.strikes_before", True, "struck_before", "foot", "yes"),
    ],
)
def test_a_new_field_is_a_reading_that_the_first_rulebook_does_not_know(
    path: str, new: Any, quantity: str, place: str, expected: float | str
) -> None:
    raw = put(path, new)
    assert value(raw, quantity, place) == expected
    assert value(raw, quantity, place, FIRST) is None


RANGES = {
    "hoof.quarter_thickness": (3, 30),
    "hoof.heel_angle": (20, 100),
    "hoof.heel_height": (5, 150),
    "hoof.bulbs": (0, 80),
    "hoof.coronet_overhang.medial": (-60, 40),
    "shoe.web": (5, 80),
    "shoe.seating_to_heel": (0, 150),
    "shoe.calks.toe": (0, 60),
    "shoe.weight": (0.1, 5),
    "observations.nails.0.to_white_line": (-20, 20),
    "observations.nails.0.wall_thickness": (3, 30),
    "observations.nails.0.clinch_length": (0, 25),
    "observations.scorch.holds.0.seconds": (0, 600),
    "observations.scorch.holds.0.start": (0, 7200),
}
LISTS = put(
    "observations.scorch.holds",
    [{"start": 0, "seconds": 6}],
    put("observations.nails", [{"branch": "medial", "hole": 1}]),
)


@pytest.mark.parametrize("path", RANGES)
@pytest.mark.parametrize("book", [FIRST, SHIPPED], ids=lambda book: book.version)
def test_a_number_has_the_range_of_the_contract(path: str, book: Rulebook) -> None:
    least, most = RANGES[path]
    for good in (least, most):
        parse_fitting(put(path, good, LISTS), book)
    for bad in (least - 0.01, most + 0.01):
        [problem] = told(put(path, bad, LISTS), book)
        assert problem.field == path
        assert f"{least:g} to {most:g}" in problem.allowed


WORDS = {
    "observations.heel_fit.medial.length": ("right", "short", "long", "uncovered"),
    "observations.heel_fit.medial.frog_gap": ("free", "touching"),
    "observations.toe_fit.overhang": ("flush", "over", "set_back"),
    "observations.toe_fit.medial_overhang": ("flush", "over", "inside"),
    "observations.levelness.gaps.toe": ("none", "daylight", "open"),
    "observations.nails.0.exit_height": ("right", "low", "high"),
    "observations.nails.0.to_white_line": ("on_line", "fine", "inside"),
    "observations.scorch.coverage": ("whole", "patchy", "poor"),
    "observations.scorch.sole_scorch": ("untouched", "edge", "scorched"),
    "observations.scorch.contact_time": ("few_seconds", "half_minute", "long"),
}


@pytest.mark.parametrize("path", WORDS)
@pytest.mark.parametrize("book", [FIRST, SHIPPED], ids=lambda book: book.version)
def test_a_number_may_be_a_word_of_the_eye_which_is_never_a_number(path: str, book: Rulebook) -> None:
    base = put("observations.nails", [{"branch": "medial", "hole": 1}])
    plain = read(base, book)
    for word in WORDS[path]:
        for sent in (word, {"value": word}):
            raw = put(path, sent, base)
            beside = {key: each for key, each in read(raw, book).items() if plain.get(key) != each}
            # How many nails come out low, and that a high one is suspect, is told of words too.
            beside.pop(("share_low", "foot"), None)
            suspect = beside.pop(("suspect_nail", "nail:medial:1"), None)
            assert (suspect is not None) == (word == "high" and book is SHIPPED)
            assert {each.value for each in beside.values()} == (set() if book is FIRST else {word})
            assert all(book.quantities[name].eye_of for name, _ in beside)
            assert parse_fitting(raw, book).model_dump_json().count(f'"{word}"') >= 1
    [problem] = told(put(path, "so-so", base), book)
    assert problem.field == path
    assert all(f'"{word}"' in problem.allowed for word in WORDS[path])


def test_a_word_has_a_figure_by_the_first_rulebook_alone() -> None:
    raw = put("observations.heel_fit.medial.width", "tight")
    assert value(raw, "width", "medial_heel", FIRST) == -1.5
    assert value(raw, "width", "medial_heel") is None
    assert value(raw, "width_by_eye", "medial_heel") == "tight"


def test_a_word_is_an_observation_as_a_number_is(good: dict[str, Any]) -> None:
    raw = put("observations.heel_fit.medial.length", "right", good)
    assessment = assess(parse_fitting(raw))
    assert (assessment.decision, assessment.still_needed) == ("release", ())


def twice(*parts: tuple[str, Any]) -> dict[str, Any]:
    raw = OF_FIRST
    for path, new in parts:
        raw = put(path, new, raw)
    return raw


CLIPS = "observations.toe_fit.clips"
SCORCH = "observations.scorch"
AT_TOE = [{"at": "toe", "state": "seated", "height": 10}]
HOLD = {"start": 0, "seconds": 6}
CONTRADICTIONS: dict[str, tuple[dict[str, Any], str]] = {
    "toe angle otherwise": (twice(("hoof.wall_angle", 50), ("hoof.toe_angle", 51)), "hoof.toe_angle"),
    "clip state otherwise": (twice((CLIPS, AT_TOE), ("observations.toe_fit.clip", "proud")), f"{CLIPS}.0.state"),
    "clip height otherwise": (twice((CLIPS, AT_TOE), ("observations.toe_fit.clip_height", 9)), f"{CLIPS}.0.height"),
    "clip none, yet listed": (
        twice((CLIPS, [{"at": "toe"}]), ("observations.toe_fit.clip", "none")),
        f"{CLIPS}.0.at",
    ),
    "clip, yet none listed": (twice((CLIPS, []), ("observations.toe_fit.clip", "proud")), "observations.toe_fit.clip"),
    "clip height, yet none listed": (
        twice((CLIPS, []), ("observations.toe_fit.clip_height", 9)),
        "observations.toe_fit.clip_height",
    ),
    "two clips at one place": (twice((CLIPS, [*AT_TOE, {"at": "toe"}])), f"{CLIPS}.1.at"),
    "trot otherwise": (
        twice(("observations.soundness.trot_up", "sound"), ("observations.going.trot_up", "lame")),
        "observations.going.trot_up",
    ),
    "sole pressure otherwise": (
        twice((f"{SCORCH}.sole_pressure", True), ("observations.levelness.sole_pressure", False)),
        "observations.levelness.sole_pressure",
    ),
    "holds and contact time": (
        twice((f"{SCORCH}.holds", [HOLD]), (f"{SCORCH}.contact_time", 6)),
        f"{SCORCH}.contact_time",
    ),
    "holds and further times": (
        twice((f"{SCORCH}.holds", [HOLD]), (f"{SCORCH}.further_contact_times", [6])),
        f"{SCORCH}.further_contact_times",
    ),
    "holds that overlap": (
        twice((f"{SCORCH}.holds", [HOLD, {"start": 5, "seconds": 1}])),
        f"{SCORCH}.holds.1.start",
    ),
    "a dark place twice": (twice((f"{SCORCH}.dark", ["toe", "toe"])), f"{SCORCH}.dark.1"),
    "one thing seen twice": (
        twice(("observations.seen", [{"what": "crack", "place": "toe"}] * 2)),
        "observations.seen.1.what",
    ),
    "a hole twice": (twice(("shoe.holes", [{"branch": "medial", "hole": 1}] * 2)), "shoe.holes.1.hole"),
    "new thickness of a new shoe": (
        twice(("shoe.refit", False), ("shoe.new_thickness", 12)),
        "shoe.new_thickness",
    ),
    "u without heights": (twice(("observations.levelness.heights_u", 0.2)), "observations.levelness.heights_u"),
    "a negative u of a height": (
        twice(("observations.levelness.heights", [[0, 60, 1, -1]])),
        "observations.levelness.heights.0.3",
    ),
}


@pytest.mark.parametrize("name", CONTRADICTIONS)
def test_what_contradicts_is_one_fault_that_names_field_and_what_is_allowed(name: str) -> None:
    raw, field = CONTRADICTIONS[name]
    [problem] = told(raw)
    assert problem.field == field
    assert problem.allowed
    assert problem.detail[0].isupper()
    assert problem.detail.endswith(".")


AGREEING = {
    "toe angle": twice(("hoof.wall_angle", 50), ("hoof.toe_angle", {"value": 50, "unit": "deg"})),
    "clip": twice((CLIPS, AT_TOE), ("observations.toe_fit.clip", "seated"), ("observations.toe_fit.clip_height", 10)),
    "no clip": twice((CLIPS, []), ("observations.toe_fit.clip", "none")),
    "trot": twice(("observations.soundness.trot_up", "sound"), ("observations.going.trot_up", "sound")),
    "sole pressure": twice((f"{SCORCH}.sole_pressure", True), ("observations.levelness.sole_pressure", True)),
    "stance": {**OF_FIRST, "hoof_form": "base_wide", "stance": "base_wide"},
}


@pytest.mark.parametrize("name", AGREEING)
def test_the_same_under_both_names_is_read_once(name: str) -> None:
    assert assess(parse_fitting(AGREEING[name])).decision


@pytest.mark.parametrize(
    "path",
    [
        *(f"observations.{part}" for part in ("heel_fit", "toe_fit", "levelness", "scorch", "finish", "soundness")),
        "observations.nails_even",
        "observations.going.trot_up",
        "observations.going.strikes_before",
        "shoe",
    ],
)
def test_of_a_bare_foot_nothing_of_a_shoe_is_observed(path: str) -> None:
    new: Any = {"trot_up": "sound", "strikes_before": True}.get(path.rpartition(".")[2], {})
    [problem] = told(put(path, new, BARE_FOOT))
    assert problem.field == path
    assert "going.before" in problem.allowed


@pytest.mark.parametrize("path", ["observations.nails", "observations.outline"])
def test_of_a_bare_foot_no_nails_and_no_outline_either(path: str) -> None:
    new: Any = [] if path.endswith("nails") else {"hoof": [], "shoe": [], "lateral": "+x"}
    [problem] = told(put(path, new, BARE_FOOT))
    assert problem.field == path


Changed = Callable[..., dict[str, Any]]


def test_contact_times_are_holds_a_minute_apart(changed: Changed) -> None:
    old = changed(observations__scorch__contact_time=9, observations__scorch__further_contact_times=[6])
    new = changed(observations__scorch__contact_time=...)
    new["observations"]["scorch"]["holds"] = [{"start": 0, "seconds": 9}, {"start": 69, "seconds": 6}]
    assert value(new, "inside_temperature", "foot") == pytest.approx(value(old, "inside_temperature", "foot"))
    assert value(new, "contact_time", "foot") == 9.0
    remarks = [assess(parse_fitting(raw)).remarks for raw in (old, new)]
    assert remarks[0] == remarks[1]


def test_a_hold_by_eye_leaves_none_of_them_out(changed: Changed) -> None:
    raw = changed(observations__scorch__contact_time=...)
    raw["observations"]["scorch"]["holds"] = [{"start": 0, "seconds": 6}, {"start": 66, "seconds": "long"}]
    table = read(raw)
    assert ("contact_time", "foot") not in table
    assert ("inside_temperature", "foot") not in table


OUTLINE_PARTS = {
    "buttresses": {"medial": [-40, -60], "lateral": [40, -60]},
    "hidden": [[[0, 70], [10, 69]]],
    "scale": {"from": [0, 0], "to": [0, 100], "mm": 100, "u": 0.5},
    "made": {"by": "photograph", "u": 1.0},
}


@pytest.mark.parametrize("part", OUTLINE_PARTS)
def test_what_is_told_of_an_outline_is_kept_as_it_was_sent(part: str, root: Any) -> None:
    more = json.loads((root / "cases_demo" / "traced-good-fore.json").read_text(encoding="utf-8"))
    more["observations"]["outline"][part] = OUTLINE_PARTS[part]
    kept = parse_fitting(more).model_dump(mode="json", by_alias=True)["observations"]["outline"][part]
    assert {key: kept[key] for key in OUTLINE_PARTS[part]} == OUTLINE_PARTS[part] if part != "hidden" else kept


def test_notes_are_still_never_judged() -> None:
    assert Fitting.model_validate({**OF_FIRST, "notes": "deep crack"}).notes == "deep crack"
