"""What a word is worth by an eye: against what it must be in the plain cases, and that it changes nothing."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.errors import BadInput
from fitcheck.eye.chance import Usual, chance_between, curve_of
from fitcheck.eye.eye import stored_eye
from fitcheck.eye.likelihood import Spreads
from fitcheck.eye.models import Curve, EyeView
from fitcheck.eye.ordered_probit import Look, Method
from fitcheck.eye.stated import with_eye
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Store, open_store
from rules import localized, shipped_rulebook
from tests.support.eye_records import keep_looks, of_a_heel
from tests.support.kept_fittings import demo_bodies
from tests.support.simulated_eyes import ENDS, WORDS, Person

BOOK = shipped_rulebook()
USUAL = Usual(0.35, 0.2, Spreads(0.5, 0.4))
METHOD = Method(0.02, 0.1, lapse_factor=0.8)
PERSON = Person(bias=0.6, scale=0.6, freedom=8, of_horse=0.1, drift=0.0, lapses=0.01)


def looks_of(count: int, spread: float, seed: int = 1) -> list[Look]:
    chance = random.Random(seed)
    found = []
    for number in range(count):
        true = chance.gauss(1.5, 2.0)
        perceived = true + chance.gauss(0, spread)
        found.append(Look(true, 0.0, sum(perceived > end for end in ENDS), f"H-{number}", ENDS))
    return found


def curve(count: int = 200, spread: float = 0.5) -> Curve:
    found = curve_of(looks_of(count, spread), WORDS, "mm", METHOD, USUAL)
    assert found is not None
    return found


def test_all_places_together_are_certain_and_a_sharper_eye_is_surer() -> None:
    sharp, blurred = curve(spread=0.2), curve(spread=2.0)
    for each in (sharp, blurred):
        parts = [chance_between(each, "close", ENDS, low, high) for low, high in ((None, 0.3), (0.3, 1.1), (1.1, None))]
        assert sum(part or 0 for part in parts) == pytest.approx(1, abs=1e-9)
    surer, less_sure = (chance_between(each, "tight", ENDS, None, ENDS[0]) for each in (sharp, blurred))
    assert surer is not None
    assert less_sure is not None
    assert surer > 0.75 > less_sure + 0.1


def test_of_many_pairs_the_chance_is_the_share_of_such_words_that_are_so() -> None:
    """The share is counted over 20,000 further looks of the same eye, the simulation's own figures and no formula."""
    found = curve(800, spread=1.0)
    further = looks_of(20000, 1.0, seed=2)
    for number, (low, high) in enumerate(((None, ENDS[0]), (None, ENDS[1]), (ENDS[1], None), (ENDS[2], None))):
        of_word = [look.value for look in further if look.word == number]
        share = sum((low is None or v > low) and (high is None or v < high) for v in of_word) / len(of_word)
        assert chance_between(found, WORDS[number], ENDS, low, high) == pytest.approx(share, abs=0.04)


def test_few_words_that_lie_apart_make_no_perfect_eye() -> None:
    looks = [Look(float(v), 0.0, sum(v > end for end in ENDS), f"H-{v}", ENDS) for v in (-3, -2, -1, 0, 1, 2, 3, 4)]
    found = curve_of(looks, WORDS, "mm", METHOD, USUAL)
    assert found is not None
    chance = chance_between(found, "tight", ENDS, None, ENDS[0])
    assert chance is not None
    assert 0.5 < chance < 0.97


def test_a_share_of_the_whole_is_as_unsure_as_a_length_in_another_unit() -> None:
    """The same looks in another unit have the same chances: nothing is lost by rounding where figures are small."""
    looks = looks_of(14, 0.9)
    tiny = [
        look._replace(value=look.value / 1000, u=look.u / 1000, ends=tuple(end / 1000 for end in ENDS))
        for look in looks
    ]
    plain, small = (curve_of(each, WORDS, "1", METHOD, USUAL) for each in (looks, tiny))
    assert plain is not None
    assert small is not None
    assert all(row[number] > 0 for number, row in enumerate(small.covariance))
    chance = chance_between(plain, "close", ENDS, None, 0.5)
    assert chance_between(small, "close", tiny[0].ends, None, 0.0005) == pytest.approx(chance, abs=2e-3)


def test_words_that_hang_together_by_horse_leave_the_curve_less_sure() -> None:
    """Whole horses said one step too far, against as many words that err each by itself."""
    asleep = [
        look._replace(word=min(3, look.word + 1) if number // 3 % 3 == 0 else look.word)
        for number, look in enumerate(looks_of(90, 0.7))
    ]
    by_threes = [look._replace(group=f"H-{number // 3}") for number, look in enumerate(asleep)]
    curves = [curve_of(each, WORDS, "mm", METHOD, USUAL) for each in (asleep, by_threes)]
    apart, together = (each.covariance[1][1] for each in curves if each is not None)
    assert together > 1.2 * apart


def test_a_yard_that_measured_one_value_alone_leaves_the_pairs_to_tell_how_feet_are_spread() -> None:
    looks = looks_of(14, 0.9)
    alike = curve_of(looks, WORDS, "mm", METHOD, USUAL, [(2.0, 0.1)] * 40)
    assert alike == curve_of(looks, WORDS, "mm", METHOD, USUAL)


def test_measures_that_are_all_alike_tell_no_curve() -> None:
    alike = [Look(1.0, 0.1, 1, f"H-{number}", ENDS) for number in range(20)]
    assert curve_of(alike, WORDS, "mm", METHOD, USUAL) is None


@pytest.fixture(scope="module")
def view(tmp_path_factory: pytest.TempPathFactory) -> EyeView:
    path: Path = tmp_path_factory.mktemp("eye") / "records.sqlite3"
    with open_store(f"sqlite:///{path}") as store:
        keep_looks(store, "A-3", PERSON, 24, 3)
        return stored_eye(store, "A-3", BOOK, brief=True)


def by(person: str, **more: Any) -> dict[str, Any]:
    return of_a_heel("tight", person={"id": person}, **more)


def test_a_finding_on_a_word_has_its_chance_and_the_answer_names_the_eye(view: EyeView) -> None:
    fitting = parse_fitting(by("A-3"))
    plain = assess(fitting)
    found = with_eye(plain, fitting, view, BOOK)
    [tight] = [each for each in found.findings if each.rule == "heel-seen-tight"]
    assert tight.chance_by_eye is not None
    assert 0 < tight.chance_by_eye < 1
    assert tight.confidence is None
    assert found.eye is not None
    assert (found.eye.person, found.eye.version) == ("A-3", view.version)
    document = json.loads(plain.model_dump_json())
    assert "eye" not in document
    assert all("chance_by_eye" not in each for each in document["findings"])


SHOD = [body for body in demo_bodies() if json.loads(body)["stage"] != "dressed"]


@pytest.mark.parametrize("number", range(len(SHOD)))
def test_it_changes_neither_decision_nor_grade_nor_order(view: EyeView, number: int) -> None:
    document = json.loads(SHOD[number])
    for side in ("medial", "lateral"):
        document["observations"].setdefault("heel_fit", {}).setdefault(side, {})["width"] = "tight"
    document |= {"person": {"id": "A-3"}, "assessor": None}
    fitting = parse_fitting(document)
    plain = assess(fitting)
    seen = with_eye(plain, fitting, view, BOOK)
    bare = [each.model_copy(update={"chance_by_eye": None}) for each in seen.findings]
    assert seen.model_copy(update={"findings": tuple(bare), "eye": None}) == plain


def test_the_words_of_somebody_else_are_refused(view: EyeView) -> None:
    for document in (by("A-4"), by("A-3", assessor={"id": "S-1"}), of_a_heel("tight")):
        fitting = parse_fitting(document)
        with pytest.raises(BadInput, match=r"The eye is that of A-3"):
            with_eye(assess(fitting), fitting, view, BOOK)


def test_the_same_pairs_have_the_same_version_and_one_more_another(sqlite_store: Store) -> None:
    keep_looks(sqlite_store, "A-3", PERSON, 14, 3)
    first = stored_eye(sqlite_store, "A-3", BOOK, brief=True)
    german = stored_eye(sqlite_store, "A-3", localized(BOOK, "de"), brief=True)
    assert first.version == german.version
    assert first.say != german.say
    keep_looks(sqlite_store, "A-3", PERSON, 2, 4)
    assert stored_eye(sqlite_store, "A-3", BOOK, brief=True).version != first.version


def test_below_the_fewest_pairs_it_says_how_many_are_missing(sqlite_store: Store) -> None:
    keep_looks(sqlite_store, "A-3", PERSON, 7, 9)
    found = stored_eye(sqlite_store, "A-3", BOOK)
    [width] = found.quantities
    assert (found.fewest_pairs, width.pairs + width.missing) == (12, 12)
    assert width.groups[0].bias is None
    assert width.groups[0].words == ()
    assert width.curve is None
    assert width.groups[0].say == (f"{width.pairs} pairs; {width.missing} more are needed before anything is told.",)
    assert stored_eye(sqlite_store, "A-9", BOOK).words == 0


def test_erasing_a_person_erases_the_eye(store: Store) -> None:
    keep_looks(store, "A-3", PERSON, 4, 3)
    assert stored_eye(store, "A-3", BOOK).words == 4
    store.erase("A-3", reason="asked for it", created="2026-04-01T09:00:00.000Z")
    empty = stored_eye(store, "A-3", BOOK)
    assert (empty.words, empty.pairs, empty.quantities, empty.practise) == (0, 0, (), None)
