"""fitcheck.fitting.validation: each fault of a fitting is told by field, value, what is allowed and what to do."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import WHOLE
from fitcheck.fitting.validation import MOST_LISTED, parse_fitting, summary
from rules import shipped_rulebook

BARE: dict[str, Any] = {"foot": "left_fore", "stage": "nailed", "work": "draught", "observations": {}}
NAIL = {"branch": "medial", "hole": 1}
OUTLINE = {"hoof": [[0, 70]], "shoe": [[0, 71]], "lateral": "+x"}
KEYS_OF_FITTING = (
    "foot, stage, work, hoof_form, stance, hot_fitted, horse, person, assessor, visit, follows, external, "
    "good_as_a_whole, hoof, shoe, observations, notes"
)
KEYS_SEEN = (
    "dressing, seen, old_shoe, heel_fit, toe_fit, levelness, nails, nails_even, scorch, finish, "
    "soundness, going, history, outline, own"
)
NAME = "text of 1 to 64 characters, without line breaks, tabs or other control characters"


def put(path: str, value: Any) -> dict[str, Any]:
    """The bare fitting with ``value`` at a dotted path."""
    fitting = copy.deepcopy(BARE)
    here = fitting
    *parents, last = path.split(".")
    for step in parents:
        here = here.setdefault(step, {})
    here[last] = value
    return fitting


def told(raw: object) -> tuple[Problem, ...]:
    with pytest.raises(BadInput) as caught:
        parse_fitting(raw)
    return caught.value.problems


NAN = float("nan")
NEITHER = "is neither true nor false. Write true or false, without quotation marks."
NO_OBJECT = "stands where an object belongs. Write an object in braces."
NO_LIST = "stands where a list belongs. Write a list in square brackets."
NO_NUMBER = "is not a number. Write a plain number, without quotation marks."
NOT_WHOLE = "is not a whole number. Write it without a decimal point or quotation marks."
TAKE_OUT = "here. Take it out, or correct its name."
TOO_LONG = "is too long here. Take out what is too much."
TOO_SHORT = "is too short here. Add what is missing."
CHECK = "Check the number and its unit."
DAY = 'a date such as "2026-03-04"'
UNITS = 'unit "mm" or "cm" or "in"'
AN_OBJECT = "an object with the keys branch, hole"
A_READING = "an object with the keys value, unit"
RANGE = {name: quantity.range or () for name, quantity in shipped_rulebook().quantities.items()}
FOOT = 'one of "left_fore", "right_fore", "left_hind", "right_hind"'
STAGE = 'one of "dressed", "hot_fit", "nailed", "finished"'
WORK = 'one of "riding", "harness", "draught"'
FORM = 'one of "regular", "acute", "upright", "bear", "wide", "narrow", "base_wide", "base_narrow"'
YES_OR_NO = "true or false"
HORSE = "an object with the keys id, ueln, transponder"
SEEN = f"an object with the keys {KEYS_SEEN}"
BRANCH = "an object with the keys length, width, width_least, frog_gap, to_cleft"
GAPS = "the keys toe, medial_quarter, lateral_quarter, medial_heel, lateral_heel"
UELN = "15 characters: the 3 digits of a country, 001 to 899, then 12 digits or capital letters"
CODE = "15 digits: 001 to 899 for a country or 900 to 999 for a maker or a test, then a number up to 274877906943"
PERSON = f"{NAME.split(', ', 1)[0]}, an opaque id of letters, digits and . _ - : only"
NOTES = "text of at most 2000 characters"
NAILS = "a list of at most 14 objects"
HEIGHTS = "a list of at most 2000 lists of 3 to 4 numbers"
TRACE = "a list of at most 2000 lists of 2 numbers"
NUMBER = "a number from -100000 to 100000"
ANGLE = "a number from -180 to 180"
HOLE = "a whole number from 1 to 6"
# The ranges of readings are the rulebook's.
THICKNESS = "a number from {:g} to {:g} mm, or an object with value, unit, u, method".format(*RANGE["shoe_thickness"])
HEIGHT = "{:g} to {:g} mm".format(*RANGE["wall_height"])

# One row for each way in which each kind of field can be wrong: the path of what is put into the bare fitting, what is
# put there, the rest of the path of the fault, the value told, what is allowed, what to do.
FAULTS: list[tuple[str, Any, str, Any, str, str]] = [
    # A word of a closed list.
    ("foot", "middle", "", "middle", FOOT, '"middle" is not one of the words known here. Use one of them.'),
    (
        "foot",
        "left_for",
        "",
        "left_for",
        FOOT,
        '"left_for" is not one of the words known here. Did you mean "left_fore"?',
    ),
    ("stage", 7, "", 7, STAGE, "7 is not one of the words known here. Use one of them."),
    ("work", ["x"], "", "a list of 1", WORK, "A list of 1 is not one of the words known here. Use one of them."),
    ("hoof_form", None, "", None, FORM, "null is not one of the words known here. Use one of them."),
    # Yes or no.
    ("hot_fitted", "yes", "", "yes", YES_OR_NO, f'"yes" {NEITHER}'),
    ("observations.levelness.rocks", 1, "", 1, YES_OR_NO, f"1 {NEITHER}"),
    # An object.
    ("horse", "H-101", "", "H-101", HORSE, f'"H-101" {NO_OBJECT}'),
    ("observations", None, "", None, SEEN, f"null {NO_OBJECT}"),
    ("observations.heel_fit.medial", 2.4, "", 2.4, BRANCH, f"2.4 {NO_OBJECT}"),
    ("observations.levelness.gaps", [0], "", "a list of 1", f"an object with {GAPS}", f"A list of 1 {NO_OBJECT}"),
    # Unknown keys.
    ("fot", 1, "", 1, f"the keys {KEYS_OF_FITTING}", 'There is no key "fot" here. Did you mean "foot"?'),
    (
        "horse.colour",
        {},
        "",
        "an empty object",
        "the keys id, ueln, transponder",
        f'There is no key "colour" {TAKE_OUT}',
    ),
    ("observations.levelness.gaps.rear", 0.1, "", 0.1, GAPS, f'There is no key "rear" {TAKE_OUT}'),
    (
        "observations.levelness.gaps.medial_heal",
        0.1,
        "",
        0.1,
        GAPS,
        'There is no key "medial_heal" here. Did you mean "medial_heel"?',
    ),
    # Text.
    ("horse.id", 101, "", 101, NAME, "101 is not text. Write it in quotation marks."),
    ("horse.id", "", "", "", NAME, "This text is empty. Fill it in or leave the key out."),
    ("assessor.id", "S" * 65, "", "S" * 65, PERSON, "This text is too long. Shorten it."),
    ("visit", "one\ntwo", "", "one\ntwo", NAME, r'"one\ntwo" is not written as it must be. Check it.'),
    ("horse.ueln", "ABC", "", "ABC", UELN, "There are 3 characters; a UELN has 15. Copy it from the passport."),
    ("horse.ueln", 276, "", 276, UELN, "276 is not text. Write it in quotation marks."),
    ("horse.transponder", "27A", "", "27A", CODE, 'Character 3 is "A". A transponder code has digits only.'),
    ("notes", "n" * 2001, "", "n" * 100 + "…", NOTES, "This text is too long. Shorten it."),
    ("notes", "\ud800", "", "?", NOTES, "This text holds half a character. Write it again."),
    # Lists.
    ("observations.nails", NAIL, "", AN_OBJECT, NAILS, f"A{AN_OBJECT[1:]} {NO_LIST}"),
    ("observations.nails", [NAIL] * 15, "", "a list of 15", NAILS, f"A list of 15 {TOO_LONG}"),
    ("observations.levelness.heights", [[0, 1, 2]] * 2001, "", "a list of 2001", HEIGHTS, f"A list of 2001 {TOO_LONG}"),
    ("observations.outline", OUTLINE | {"shoe": 3}, ".shoe", 3, TRACE, f"3 {NO_LIST}"),
    (
        "observations.levelness.heights",
        [[0, 1]],
        ".0",
        "a list of 2",
        "a list of 3 to 4 numbers",
        f"A list of 2 {TOO_SHORT}",
    ),
    (
        "observations.scorch.arcs",
        [[0, 1], []],
        ".1",
        "an empty list",
        "a list of 2 numbers",
        f"An empty list {TOO_SHORT}",
    ),
    ("observations.scorch.arcs", [[0, 1, 2]], ".0", "a list of 3", "a list of 2 numbers", f"A list of 3 {TOO_LONG}"),
    # Numbers.
    ("observations.levelness.heights", [[0, 1, "2"]], ".0.2", "2", NUMBER, f'"2" {NO_NUMBER}'),
    ("observations.levelness.heights", [[0, True, 2]], ".0.1", True, NUMBER, f"true {NO_NUMBER}"),
    ("observations.levelness.heights", [[NAN, 1, 2]], ".0.0", "NaN", NUMBER, "NaN is not a finite number. Correct it."),
    ("observations.levelness.heights", [[0, 1, -1e9]], ".0.2", -1e9, NUMBER, f"-1000000000.0 is too small. {CHECK}"),
    ("observations.scorch.arcs", [[-181, 0]], ".0.0", -181, ANGLE, f"-181 is too small. {CHECK}"),
    ("observations.scorch.arcs", [[0, 180.5]], ".0.1", 180.5, ANGLE, f"180.5 is too large. {CHECK}"),
    ("observations.nails", [NAIL | {"hole": 0}], ".0.hole", 0, HOLE, f"0 is too small. {CHECK}"),
    ("observations.nails", [NAIL | {"hole": 7}], ".0.hole", 7, HOLE, f"7 is too large. {CHECK}"),
    ("observations.nails", [NAIL | {"hole": 1.5}], ".0.hole", 1.5, HOLE, f"1.5 {NOT_WHOLE}"),
    ("observations.nails", [NAIL | {"hole": "1"}], ".0.hole", "1", HOLE, f'"1" {NOT_WHOLE}'),
    # A day.
    ("observations.history.fitted", "2026-02-30", "", "2026-02-30", DAY, "This is not a day of the calendar."),
    # Readings.
    ("shoe.thickness", "thick", "", "thick", THICKNESS, '"thick" is not a reading.'),
    ("hoof.wall_height", 5000, "", 5000, HEIGHT, "5000 cannot be right: check the reading and its unit."),
    ("shoe.length", {"value": 1, "unit": "s"}, "", A_READING, UNITS, '"s" is not a unit for this reading.'),
]


@pytest.mark.parametrize(("path", "value", "inside", "shown", "allowed", "detail"), FAULTS)
def test_a_fault_is_told_by_field_value_what_is_allowed_and_what_to_do(
    path: str, value: Any, inside: str, shown: Any, allowed: str, detail: str
) -> None:
    assert told(put(path, value)) == (Problem(path + inside, shown, allowed, detail),)


@pytest.mark.parametrize("raw", [None, [], "left_fore", 3, True, [BARE], float("nan")])
def test_a_document_that_is_no_object_is_told_as_a_whole(raw: object) -> None:
    [problem] = told(raw)
    assert (problem.field, problem.value) == (WHOLE, summary(raw))
    assert problem.allowed == f"an object with the keys {KEYS_OF_FITTING}"
    assert problem.detail.endswith("stands where an object belongs. Write an object in braces.")


def test_each_missing_key_is_told_with_what_belongs_there() -> None:
    detail = "This key is missing. Add it."
    assert told({}) == (
        Problem("foot", None, f"this key is required: {FOOT}", detail),
        Problem("stage", None, f"this key is required: {STAGE}", detail),
        Problem("work", None, f"this key is required: {WORK}", detail),
        Problem("observations", None, f"this key is required: {SEEN}", detail),
    )


@pytest.mark.parametrize(
    ("path", "value", "fields"),
    [
        ("person", {"role": "farrier"}, ["person.id"]),
        ("observations.nails", [NAIL, {}], ["observations.nails.1.branch", "observations.nails.1.hole"]),
        ("observations.outline", {"hoof": []}, ["observations.outline.shoe", "observations.outline.lateral"]),
    ],
)
def test_a_missing_key_deep_inside_has_its_whole_path(path: str, value: Any, fields: list[str]) -> None:
    assert [problem.field for problem in told(put(path, value))] == fields


@pytest.mark.parametrize(
    ("raw", "field", "value", "words"),
    [
        (BARE | {"hoof_form": "base_wide", "stance": "base_narrow"}, "stance", "base_narrow", "which is a stance"),
        (BARE | {"hoof_form": "base_wide", "stance": "regular"}, "stance", "regular", "which is a stance"),
        (put("observations.scorch.coverage", 1) | {"hot_fitted": False}, "hot_fitted", False, "shoe was hot"),
        (put("observations.nails", [NAIL, NAIL]), "observations.nails.1.hole", 1, "twice"),
        (
            put("observations.toe_fit", {"clip": "none", "clip_height": 11}),
            "observations.toe_fit.clip_height",
            11,
            "there is none",
        ),
        (
            put("observations.history", {"last_shod": "2026-03-05", "fitted": "2026-03-04"}),
            "observations.history.fitted",
            "2026-03-04",
            "before last_shod",
        ),
    ],
)
def test_a_contradiction_is_told_at_the_field_that_contradicts(
    raw: dict[str, Any], field: str, value: Any, words: str
) -> None:
    [problem] = told(raw)
    assert (problem.field, problem.value) == (field, value)
    assert words in problem.detail
    assert problem.allowed


def test_at_most_twenty_problems_are_listed_and_the_rest_is_counted() -> None:
    *listed, last = told(BARE | {f"key{number}": 0 for number in range(27)})
    assert [problem.field for problem in listed] == [f"key{number}" for number in range(MOST_LISTED)]
    assert last.field == WHOLE
    assert "7 more problems" in last.detail
    *listed, last = told(BARE | {f"key{number}": 0 for number in range(MOST_LISTED + 1)})
    assert "1 more problem." in last.detail
    assert len(told(BARE | {f"key{number}": 0 for number in range(MOST_LISTED)})) == MOST_LISTED


def test_what_is_told_stays_short_however_much_was_sent() -> None:
    huge = "x" * 500_000
    raw = put("observations.nails", [[huge] * 1000]) | {huge: {huge: huge}, "notes": huge, "foot": huge}
    raw["horse"] = {"id": {f"{huge}{number}": 0 for number in range(20)}}
    text = json.dumps([problem.as_dict() for problem in told(raw)])
    assert len(text) < 5000


@pytest.mark.parametrize(
    ("value", "short"),
    [
        ({}, "an empty object"),
        ({"a": 1}, "an object with the key a"),
        ({str(n): n for n in range(10)}, "an object with the keys 0, 1, 2, 3, 4, 5, 6, 7 and 2 more"),
        ([], "an empty list"),
        ((1, 2, 3), "a list of 3"),
        ("x" * 100, "x" * 100),
        ("x" * 101, "x" * 100 + "…"),
        (2**53, 2**53),
        (-(2**53) - 1, "a whole number that is far too large"),
        (10**400, "a whole number that is far too large"),
        (float("inf"), "Infinity"),
        (b"x", "something that JSON does not have"),
        (None, None),
        (False, False),
        (0.5, 0.5),
    ],
)
def test_a_value_is_shown_short_and_fit_for_json(value: object, short: object) -> None:
    assert summary(value) == short
    json.dumps(summary(value), allow_nan=False)


def test_text_that_no_message_can_quote_is_refused_by_its_field() -> None:
    [problem] = told(put("shoe.thickness", "\ud800"))
    assert problem.field == "shoe.thickness"
    json.dumps(problem.as_dict()).encode()


def test_a_good_fitting_comes_through_as_it_is() -> None:
    fitting = parse_fitting(put("observations.heel_fit.medial.width", "tight"))
    assert fitting.observations.heel_fit is not None
    assert fitting.model_dump(mode="json")["observations"]["heel_fit"]["medial"]["width"] == "tight"
