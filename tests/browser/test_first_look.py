"""The first look on the telephone against the service: the same single findings, and never a better decision."""

from __future__ import annotations

from itertools import islice
from typing import Any, Final

import pytest

from fitcheck import assess, parse_fitting
from fitcheck.assessment.completeness import field_of
from fitcheck.errors import BadInput
from fitcheck.fitting.observables import ROWS
from rules import shipped_rulebook
from tests.support.counts import tries
from tests.support.phone import Phone
from tests.support.random_fittings import random_fittings

BOOK: Final = shipped_rulebook()
SEED: Final = 20_261
PART: Final = 200
FULL, FIRST = 2000, 100
DIRECT: Final = {row.quantity for row in ROWS if row.measure is None} | {
    name for name, quantity in BOOK.quantities.items() if getattr(quantity, "eye_of", None)
}
ALLOWED: Final = {
    "stop_and_refer": {"stop_and_refer"},
    "put_right": {"put_right", "stop_and_refer"},
    "wait": {"release", "go_on", "incomplete", "put_right", "stop_and_refer"},
}
"""What the service may say after each first look, of which only wait is a claim of nothing."""


def looked_at(phone: Phone, fittings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The first look at each, and what the page left to the service, in the browser."""
    found: list[dict[str, Any]] = phone.driver.execute_async_script(
        "const [fittings, done] = arguments; const base = document.body.dataset.base;"
        "Promise.all(['first', 'readings', 'needed'].map((name) => import(`${base}/js/look/${name}.js`)))"
        ".then(([first, readings, needed]) => done(fittings.map((each) => ({ ...first.firstLook(each),"
        "  computed: [...readings.computedOf(each)], needed: needed.stillNeeded(each) }))),"
        "  (error) => done(String(error)));",
        fittings,
    )
    assert isinstance(found, list), found
    return found


HOLES_FIELD: Final = "shoe.holes[].to_white_line"


def needed_fields(fitting: dict[str, Any], needed: list[dict[str, str]]) -> set[str]:
    """The fields of what the page says is still needed."""
    nails = [f"nail:{nail['branch']}:{nail['hole']}" for nail in fitting["observations"].get("nails") or ()]
    cold = fitting.get("hot_fitted") is False
    fields = set()
    for each in needed:
        if each["quantity"] == "to_white_line":  # of each branch, whichever hole
            fields.add(HOLES_FIELD)
        else:
            fields.add(field_of(each["quantity"], each["place"], nails, cold=cold))
    return fields


def held(phone: Phone, fittings: list[dict[str, Any]]) -> tuple[dict[str, int], int, dict[str, Any]]:
    """Hold the first look at each against the service; how often each decision came, how many findings, the last."""
    seen: dict[str, int] = {}
    singles = refused = 0
    for start in range(0, len(fittings), PART):
        some = fittings[start : start + PART]
        for fitting, first in zip(some, looked_at(phone, some), strict=True):
            try:
                answer = assess(parse_fitting(fitting))
            except BadInput:
                # Fields that cannot be true together, such as growth beyond all horn: the service sends them back.
                refused += 1
                continue
            left = set(first["computed"])
            expected = {
                (each.rule, each.place)
                for each in answer.findings
                if each.rule in BOOK.rules
                and each.rule not in first["left"]
                and (quantity := BOOK.rules[each.rule].quantity) in DIRECT
                and f"{quantity}@{each.place}" not in left
            }
            assert {(each["rule"], each["place"]) for each in first["findings"]} == expected, fitting
            # What was read, and only by its chances is not enough, the service alone asks for again.
            unsure = {each.field for each in answer.unassessed or () if each.why == "too_uncertain"}
            asked = {each.field for each in answer.still_needed if each.criterion in BOOK.criteria}
            # Whether insets of holes and the wall give it, the page cannot tell, and asks.
            if any(each.startswith("to_white_line@") for each in left):
                unsure.add(HOLES_FIELD)
            assert needed_fields(fitting, first["needed"]) - unsure == asked - unsure, fitting
            assert answer.decision in ALLOWED[first["decision"]], fitting
            seen[first["decision"]] = seen.get(first["decision"], 0) + 1
            singles += len(expected)
    assert refused <= len(fittings) / 100
    return seen, singles, first


WORDS: Final = tuple(
    (place, word)
    for place, words in (("nail", ("right", "low", "high")), ("heel", ("tight", "close", "full", "wide")))
    for word in words
)


@pytest.mark.parametrize("stage", ["hot_fit", "nailed", "finished"])
def test_words_of_the_eye_are_read_at_each_place_as_the_service_reads_them(phone: Phone, stage: str) -> None:
    phone.open("/?lang=en")
    fittings: list[dict[str, Any]] = []
    for place, word in WORDS:
        for foot in ("left_fore", "right_hind"):
            nail = {"branch": "medial", "hole": 2, "sound": "firm", "reaction": "none", "blood": False}
            observed = {
                "nail": {"nails": [nail | {"exit_height": word}]},
                "heel": {"heel_fit": {"lateral": {"width": word}}},
            }[place]
            if stage != "hot_fit" or place == "heel":
                fittings.append({"foot": foot, "stage": stage, "work": "draught", "observations": observed})
    _, singles, _ = held(phone, fittings)
    assert singles >= 2


@pytest.mark.parametrize("part", ["first", pytest.param("rest", marks=pytest.mark.long)])
def test_single_findings_and_what_is_needed_are_the_services_and_the_decision_is_never_better(
    phone: Phone, part: str
) -> None:
    """2,000 fittings in a study: the first of them are tried with every test, a tenth of the rest in CI."""
    phone.open("/?lang=en")
    number = FIRST if part == "first" else tries(10, full=FULL - FIRST)
    fittings = list(islice(random_fittings(SEED, FULL), 0 if part == "first" else FIRST, None))[:number]
    seen, singles, first = held(phone, fittings)
    # What only the service can judge by is the lesser part.
    assert len(first["left"]) < len(BOOK.rules) / 4
    assert singles > len(fittings)
    assert seen.keys() == ALLOWED.keys(), seen
