"""Which words and measures of kept records are a pair, and which never."""

from __future__ import annotations

import json
from typing import Any

import pytest

from fitcheck.errors import BadInput
from fitcheck.eye.pairs import Pairs, pairs_of
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Store
from fitcheck.scales import scales
from rules import shipped_rulebook
from tests.support.eye_records import keep, of_a_heel
from tests.support.paths import ROOT

BOOK = shipped_rulebook()
MEDIAL = "observations.heel_fit.medial.width"


def pairs(store: Store, person: str = "A-3") -> Pairs:
    return pairs_of(store, person, BOOK)


def test_a_word_and_an_assessors_measure_of_the_same_heel_are_a_pair(store: Store) -> None:
    word = keep(store, of_a_heel("close"), "A-3", day="2026-03-04")
    measure = keep(store, of_a_heel({"value": 1.25, "u": 0.2}), "A-3", assessor="S-1")
    [pair] = pairs(store).pairs
    assert (pair.quantity, pair.place, pair.foot, pair.word) == ("width_by_eye", "medial_heel", "left_fore", "close")
    assert (pair.value, pair.u, pair.unit, pair.by_assessor) == (1.25, 0.2, "mm", True)
    assert (pair.record, pair.measured_in, pair.horse, pair.day) == (word, measure, "H-1", "2026-03-04")
    # The limits of the rulebook for a fore foot of a harness horse: tight below -0.5, wide above 1/8 in.
    assert pair.ends == (-0.5, 25.4 / 16, 25.4 / 8)
    assert pairs(store).words == 1


def test_a_word_beside_a_trace_of_the_same_record_is_a_pair(sqlite_store: Store) -> None:
    document = json.loads((ROOT / "cases_demo" / "traced-tight-lateral-heel.json").read_bytes())
    del document["assessor"]
    document["observations"]["heel_fit"] = {"lateral": {"width": "tight"}}
    document["good_as_a_whole"] = []
    keep(sqlite_store, document, "A-2")
    [pair] = pairs(sqlite_store, "A-2").pairs
    assert (pair.place, pair.word, pair.by_assessor) == ("lateral_heel", "tight", False)
    assert pair.measured_in == pair.record
    assert pair.value < -0.5
    assert pair.u > 0


def test_the_words_of_a_record_are_those_of_its_assessor(sqlite_store: Store) -> None:
    keep(sqlite_store, of_a_heel("close"), "A-3", assessor="S-1")
    keep(sqlite_store, of_a_heel(1.0), "A-3", assessor="S-2")
    assert pairs(sqlite_store, "A-3").words == 0
    assert [pair.word for pair in pairs(sqlite_store, "S-1").pairs] == ["close"]


@pytest.mark.parametrize(
    "other",
    [
        {"foot": "right_fore"},
        {"stage": "finished"},
        {"visit": "2026-04-15-H-1"},
        {"observations": {"heel_fit": {"lateral": {"width": 1.0}}}},
        {"observations": {"heel_fit": {"medial": {"width": {"value": 1.0, "method": "eye"}}}}},
        {"observations": {"heel_fit": {"medial": {"width": "full"}}}},
    ],
    ids=["another foot", "another stage", "another visit", "the other heel", "a number by eye", "another word"],
)
def test_what_is_not_a_measure_of_the_same_thing_makes_no_pair(sqlite_store: Store, other: dict[str, Any]) -> None:
    keep(sqlite_store, of_a_heel("close"), "A-3")
    keep(sqlite_store, of_a_heel(1.0) | other, "A-3", assessor="S-1")
    found = pairs(sqlite_store)
    assert found.pairs == []
    assert found.left_out == {"not_measured": 1}


def test_another_apprentice_measures_nothing_for_him(sqlite_store: Store) -> None:
    keep(sqlite_store, of_a_heel("close"), "A-3")
    keep(sqlite_store, of_a_heel(1.0), "A-4")
    assert pairs(sqlite_store).pairs == []


def test_what_was_said_good_with_one_button_is_never_a_pair(sqlite_store: Store) -> None:
    keep(sqlite_store, of_a_heel("full", good_as_a_whole=[MEDIAL]), "A-3")
    keep(sqlite_store, of_a_heel(2.0), "A-3", assessor="S-1")
    found = pairs(sqlite_store)
    assert (found.pairs, dict(found.left_out)) == ([], {"whole_group": 1})


def _all_good(**more: Any) -> dict[str, Any]:
    side = {"length": "right", "width": "full", "frog_gap": "free"}
    return of_a_heel("full") | {"observations": {"heel_fit": {"medial": side, "lateral": side}}} | more


def test_a_record_that_does_not_say_may_have_been_made_with_the_button(sqlite_store: Store) -> None:
    """Every word of the criterion is there, as the button leaves them; said one by one they count."""
    keep(sqlite_store, _all_good(), "A-3")
    keep(sqlite_store, of_a_heel(2.0), "A-3", assessor="S-1")
    keep(sqlite_store, _all_good(visit="v2", good_as_a_whole=[]), "A-3")
    keep(sqlite_store, of_a_heel(2.0, visit="v2"), "A-3", assessor="S-1")
    found = pairs(sqlite_store)
    assert [pair.visit for pair in found.pairs] == ["v2"]
    assert found.left_out == {"perhaps_whole_group": 6, "not_measured": 5}


def test_what_is_named_as_said_good_must_be_there() -> None:
    with pytest.raises(BadInput, match=r"good_as_a_whole.0: Nothing was sent at observations.toe_fit.overhang"):
        parse_fitting(of_a_heel("full", good_as_a_whole=["observations.toe_fit.overhang"]))


def test_after_it_was_put_right_the_state_is_another(sqlite_store: Store) -> None:
    """A second try follows, or the same person looks anew: what is measured then is no measure of the word before."""
    first = keep(sqlite_store, of_a_heel("tight"), "A-3")
    keep(sqlite_store, of_a_heel(2.5, follows=first), "A-3", assessor="S-1")
    keep(sqlite_store, of_a_heel("tight", visit="v2"), "A-3")
    keep(sqlite_store, of_a_heel(2.0, visit="v2"), "A-3")
    keep(sqlite_store, of_a_heel("tight", visit="v3"), "A-3")
    keep(sqlite_store, of_a_heel(-1.5, visit="v3"), "A-3", assessor="S-1")
    assert [(pair.visit, pair.value) for pair in pairs(sqlite_store).pairs] == [("v3", -1.5)]


def test_a_word_after_his_own_measure_is_no_word_of_the_eye(sqlite_store: Store) -> None:
    keep(sqlite_store, of_a_heel(1.0), "A-3")
    keep(sqlite_store, of_a_heel("close"), "A-3")
    found = pairs(sqlite_store)
    assert (found.pairs, dict(found.left_out)) == ([], {"measured_before": 1})


def test_of_several_measures_the_surest_counts_and_a_word_once(sqlite_store: Store) -> None:
    for width in ("close", "close", {"value": 1.0, "u": 0.5}, {"value": 1.2, "u": 0.1}):
        assessor = None if isinstance(width, str) else "S-1"
        keep(sqlite_store, of_a_heel(width), "A-3", assessor=assessor)
    [pair] = pairs(sqlite_store).pairs
    assert (pair.value, pair.u) == (1.2, 0.1)


def test_corrected_and_erased_records_are_out(store: Store) -> None:
    for visit in ("v1", "v2", "v3"):
        word = keep(store, of_a_heel("close", visit=visit), "A-3")
        keep(store, of_a_heel(1.0, visit=visit), "A-4" if visit == "v3" else "A-5", assessor="S-1")
    keep(store, of_a_heel("full", visit="v3"), "A-3", corrects=word)
    assert [pair.word for pair in pairs(store).pairs] == ["close", "close", "full"]
    store.erase("A-4", reason="asked for it", created="2026-04-01T09:00:00.000Z")
    assert [pair.visit for pair in pairs(store).pairs] == ["v1", "v2"]
    store.erase("A-3", reason="asked for it", created="2026-04-01T09:00:00.000Z")
    assert pairs(store) == Pairs()


def test_what_was_carried_from_the_look_before_is_not_said_anew(sqlite_store: Store) -> None:
    tried = of_a_heel("full") | {"observations": {"heel_fit": {"medial": {"width": "full"}}}}
    first = keep(sqlite_store, tried, "A-3")
    again = of_a_heel("full", follows=first, stage="nailed") | {"observations": {"heel_fit": {"as_before": True}}}
    keep(sqlite_store, again, "A-3")
    keep(sqlite_store, of_a_heel(2.0, stage="nailed"), "A-3", assessor="S-1")
    found = pairs(sqlite_store)
    assert (found.pairs, found.words) == ([], 1)


def test_his_word_beside_an_assessors_word(sqlite_store: Store) -> None:
    keep(sqlite_store, of_a_heel("close"), "A-3")
    keep(sqlite_store, of_a_heel("full"), "A-3", assessor="S-1")
    [beside] = pairs(sqlite_store).beside_assessors
    assert (beside.word, beside.other, beside.assessor) == ("close", "full", "S-1")


def test_scales_name_words_and_rules_of_the_book() -> None:
    known = {name: each for name, each in BOOK.quantities.items() if each.eye_of}
    assert scales().keys() == known.keys()
    for name, scale in scales().items():
        assert sorted(scale.words) == sorted(known[name].vocabulary)
        assert len(scale.ends) == len(scale.words) - 1
        assert set(scale.everywhere) <= {rule for names in scale.ends for rule in names}
        for rule in (rule for names in scale.ends for rule in names):
            assert BOOK.rules[rule].quantity == known[name].eye_of
            assert (BOOK.rules[rule].low is None) != (BOOK.rules[rule].high is None)
