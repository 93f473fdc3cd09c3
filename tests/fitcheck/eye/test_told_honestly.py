"""What is told of words that tell little: no sentence claims more than the pairs know, in English and in German."""

from __future__ import annotations

import random
import re
from collections.abc import Iterable
from typing import Any

import pytest

from fitcheck.eye.curve_plot import curve_plot
from fitcheck.eye.eye import eye_of
from fitcheck.eye.models import EyeGroup, EyeView
from fitcheck.eye.pairs import Pair, Pairs
from fitcheck.eye.side_by_side import side_by_side
from fitcheck.fitting.readings import situation_of
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Store
from fitcheck.scales import ends_by_book, scales
from rules import localized, shipped_rulebook
from tests.support.eye_records import keep, of_a_heel
from tests.support.simulated_eyes import ENDS, WORDS

BOOK = shipped_rulebook()
GERMAN = localized(BOOK, "de")
Row = tuple[float, float, int, str]
"""Measure, its u, word, horse."""


def rows(count: int, *, spread: float = 0.8, off: float = 0.0, seed: int = 5) -> list[Row]:
    """Words of an eye that sees ``off`` more than there is, three at a horse."""
    chance = random.Random(seed)
    found = []
    for number in range(count):
        true = chance.gauss(1.8, 2.2)
        word = sum(true + off + chance.gauss(0, spread) > end for end in ENDS)
        found.append((round(true + chance.gauss(0, 0.15), 2), 0.15, word, f"H-{number // 3}"))
    return found


def eye(said: Iterable[Row], *, german: bool = False) -> EyeView:
    pairs = [
        Pair(
            *("width_by_eye", "medial_heel", "left_fore", WORDS[word], value, u, "mm", ENDS, horse),
            *(f"{horse}-1", "2026-03-04", f"R-{number}", f"M-{number}", True),
        )
        for number, (value, u, word, horse) in enumerate(said)
    ]
    return eye_of("A-3", Pairs(pairs=pairs, words=len(pairs)), GERMAN if german else BOOK)


def group_of(view: EyeView) -> EyeGroup:
    return view.quantities[0].groups[0]


def said(found: Iterable[Row]) -> tuple[str, str]:
    """All that is told of all pairs, in both languages."""
    kept = list(found)
    english, german = (" ".join(group_of(eye(kept, german=german)).say) for german in (False, True))
    return english, german


REVERSED = [(value, u, 3 - word, horse) for value, u, word, horse in rows(40)]
ONE_VALUE = [(1.0, u, number % 4, horse) for number, (_, u, _, horse) in enumerate(rows(16))]


@pytest.mark.parametrize("kept", [REVERSED, ONE_VALUE], ids=["reversed", "one value"])
def test_words_that_do_not_follow_the_measure_tell_no_eye(kept: list[Row]) -> None:
    """A sharp eye with many lapses would fit words that run the other way: nothing of that is told."""
    view = eye(kept)
    group = group_of(view)
    assert not group.follows
    assert (group.bias, group.spread, group.words) == (None, None, ())
    assert len(group.say) == 1
    assert group.say[0].startswith("Your words do not follow what was measured")
    assert view.practise == "width_by_eye"
    assert curve_plot(view, "width_by_eye", BOOK) is None
    assert said(kept)[1].startswith("Deine Worte folgen nicht dem, was gemessen wurde")


def test_words_said_at_random_tell_no_eye_either() -> None:
    chance = random.Random(3)
    guessed = [(value, u, chance.randrange(4), horse) for value, u, _, horse in rows(60)]
    assert not group_of(eye(guessed)).follows


def test_two_words_interchanged_are_a_blurred_eye_and_no_sure_one() -> None:
    kept = rows(60, spread=0.4)
    turned = [(value, u, {0: 1, 1: 0}.get(word, word), horse) for value, u, word, horse in kept]
    plain, swapped = (group_of(eye(each)) for each in (kept, turned))
    assert plain.spread is not None
    assert plain.spread.high is not None
    if swapped.follows:
        assert swapped.spread is not None
        assert swapped.spread.value is not None
        assert swapped.spread.value > plain.spread.high


def test_of_one_horse_neither_bias_nor_spread_is_claimed() -> None:
    english, german = said([(value, u, word, "H-1") for value, u, word, _ in rows(12)])
    assert "Whether there is a bias is open: about" in english
    assert "How sharp your eye is cannot be told" in english
    assert "No bias is shown" not in english
    assert "lie within" not in english
    assert "Wie scharf dein Auge ist, lässt sich aus diesen Worten nicht sagen" in german
    assert "Kein Fehler" not in german


def test_who_says_one_word_alone_is_not_told_that_words_lie_apart() -> None:
    for kept in (rows(40, off=9.0), [(value, u, 2, horse) for value, u, _, horse in rows(14)]):
        english, german = said(kept)
        assert "lie apart" not in english
        assert "getrennt" not in german


@pytest.mark.parametrize("name", scales())
def test_each_word_of_each_scale_may_be_the_only_one_that_was_said(name: str) -> None:
    """By the ends of the shipped rulebook, one of which lies at 0: room at the frog."""
    scale = scales()[name]
    foot = parse_fitting(of_a_heel("close"))
    ends = ends_by_book(
        scale, "medial_heel", situation_of(foot, BOOK), {"shoe_thickness": 10.0, "width_allowance": 1.0}, BOOK
    )
    assert any(end is not None for end in ends)
    for word in scale.words:
        pairs = [
            Pair(
                *(name, "medial_heel", "left_fore", word, 4.0 + number / 3, 0.5, "mm", ends, f"H-{number // 2}"),
                *(f"V-{number // 2}", "2026-03-04", f"R-{number}", f"M-{number}", True),
            )
            for number in range(14)
        ]
        for book in (BOOK, GERMAN):
            [found] = eye_of("A-3", Pairs(pairs=pairs, words=14), book).quantities
            assert (found.groups[0].pairs, found.groups[0].missing) == (14, 0)
            assert found.groups[0].say


def test_words_that_do_lie_apart_are_told_so() -> None:
    apart = [(step / 2, 0.15, sum(step / 2 > end for end in ENDS), f"H-{step}") for step in range(-6, 12)]
    english, german = said(apart)
    assert "Your words lie apart on the measure" in english
    assert "Deine Worte liegen auf dem Maß getrennt" in german


def test_less_is_told_with_an_interval_of_how_much_less() -> None:
    """Two millimetres less, between minus three and minus one, would be more when read aloud."""
    kept = rows(90, off=-1.5)
    bias = group_of(eye(kept)).bias
    assert bias is not None
    assert bias.low is not None
    assert bias.high is not None
    assert bias.high < 0
    english, german = said(kept)
    low, high = f"{-bias.high:.1f}", f"{-bias.low:.1f}"
    assert f"less than there is (95 % interval {low.removesuffix('.0')} to {high.removesuffix('.0')})" in english
    assert f"weniger, als da ist (95-%-Intervall {low.removesuffix('.0').replace('.', ',')} bis" in german


@pytest.mark.parametrize(("word", "way"), [(3, 1), (0, -1)])
def test_a_bias_of_which_only_a_least_is_sure_is_told_so(word: int, way: int, sqlite_store: Store) -> None:
    """All said the last word of what lies far before it, or the first of what lies far behind."""
    kept = [(1.6 - way * (2.5 + number / 5), 0.2, word, f"H-{number}") for number in range(14)]
    bias = group_of(eye(kept)).bias
    assert bias is not None
    assert bias.value is None
    nearest, farthest = (bias.low, bias.high) if way > 0 else (bias.high, bias.low)
    assert nearest is not None
    assert way * nearest > 1
    assert farthest is None
    english, german = said(kept)
    assert re.search(rf"You see at least [\d.]+ mm {'more' if way > 0 else 'less'} than there is", english)
    assert re.search(rf"Du siehst mindestens [\d,]+ mm {'mehr' if way > 0 else 'weniger'}, als da ist", german)
    for number, (value, u, said_word, horse) in enumerate(kept):
        about: dict[str, Any] = {"horse": {"id": horse}, "visit": f"V-{number}"}
        keep(sqlite_store, of_a_heel(WORDS[said_word], **about), "A-3", day="2026-03-04")
        keep(sqlite_store, of_a_heel({"value": value, "u": u}, **about), "A-3", assessor="S-1", day="2026-03-04")
    [row] = side_by_side(sqlite_store, "S-1", BOOK)
    assert row.bias is not None
    assert row.size is None


@pytest.mark.parametrize("u", [0.0, 1e-12, 50.0])
@pytest.mark.parametrize("count", [12, 30])
def test_a_measure_without_error_or_with_a_huge_one_is_no_failure(u: float, count: int) -> None:
    view = eye([(value, u, word, horse) for value, _, word, horse in rows(count)])
    curve = view.quantities[0].curve
    assert curve is not None
    assert 0 < curve.lapse < 0.5
    spread = group_of(view).spread
    if u > 1 and spread is not None:
        # What no measure tells is open.
        assert spread.low is None


def test_every_scale_is_told_with_pairs_of_its_own() -> None:
    """Each quantity with words, its own unit: an eye that is off by a known step is told so, whatever its words."""
    for name, scale in scales().items():
        ends = tuple(10.0 * number for number in range(1, len(scale.words)))
        chance = random.Random(name)
        pairs = []
        for number in range(30):
            true = chance.uniform(0, ends[-1] + 10)
            word = scale.words[sum(true + chance.gauss(0, 2) > end for end in ends)]
            pairs.append(
                Pair(
                    *(name, "foot", "left_fore", word, true, 0.5, "mm", ends, f"H-{number // 2}"),
                    *(f"V-{number // 2}", "2026-03-04", f"R-{number}", f"M-{number}", True),
                )
            )
        [found] = eye_of("A-3", Pairs(pairs=pairs, words=30), GERMAN).quantities
        bias = found.groups[0].bias
        assert bias is not None, name
        assert bias.low is None or bias.low < 2.5, name
        assert bias.high is None or bias.high > -2.5, name
        assert all("{" not in each for each in found.groups[0].say)


def test_who_was_measured_at_one_horse_alone_is_not_ranked(sqlite_store: Store) -> None:
    """Twelve words at one horse may fit to a tenth of a millimetre; of others they say nothing."""
    for number, (value, _, word, _) in enumerate(rows(14)):
        foot, side = ("left_fore", "right_fore")[number % 2], ("medial", "lateral")[number // 2 % 2]
        about = {"foot": foot, "horse": {"id": "H-1"}, "visit": f"V-{number}"}
        keep(sqlite_store, of_a_heel(WORDS[word], side, **about), "A-3", day="2026-03-04")
        measured = {"value": value, "u": 0.15}
        keep(sqlite_store, of_a_heel(measured, side, **about), "A-3", assessor="S-1", day="2026-03-04")
    [row] = side_by_side(sqlite_store, "S-1", BOOK, ranked=True)
    assert row.missing == 0
    assert (row.size, row.error) == (None, None)
