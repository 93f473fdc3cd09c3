"""What a person's sessions tell: in plain sentences, by weeks and places, and what comes next."""

from __future__ import annotations

import pytest

from fitcheck.practice import exercises_of, outcome_of
from rules import localized, shipped_rulebook
from tests.support.practised import session

BOOK = shipped_rulebook()


def test_somebody_who_sees_less_than_there_is_is_told_so_with_an_interval() -> None:
    [heel] = outcome_of([session(1, off=1.5)], BOOK).exercises
    scale = exercises_of(BOOK)["heel_width"].scale
    assert heel.bias.low is not None
    assert heel.bias.high is not None
    assert heel.bias.low < 1.5 * scale < heel.bias.high
    assert f"Your eye sees it {heel.bias.value:.1f} mm tighter than it is" in heel.say[1]
    [other] = outcome_of([session(1, off=-1.5)], BOOK).exercises
    assert f"{-other.bias.value:.1f} mm wider than it is" in other.say[1]
    close = heel.words[1]
    assert (close.word, close.book_begins, close.book_ends) == ("close", -0.5, 25.4 / 16)
    assert close.begins == pytest.approx(-0.5 + heel.bias.value, abs=1e-3)


def test_where_a_word_begins_is_not_told_of_an_eye_whose_bias_is_open() -> None:
    """Words that run the other way leave the bias open, and with it every bound."""
    kept = session(1)
    words = exercises_of(BOOK)["heel_width"].words
    turned = [each.model_copy(update={"word": words[3 - words.index(each.word)]}) for each in kept.drawings]
    for book in (BOOK, localized(BOOK, "de")):
        [found] = outcome_of([kept.model_copy(update={"drawings": turned})], book).exercises
        assert found.bias.low is None or found.bias.high is None
        assert not any(each.startswith(("Your “", "„")) for each in found.say)


def test_german_is_whole() -> None:
    book = localized(BOOK, "de")
    sessions = [session(seed, name, off=seed % 3 - 1.0) for seed, name in enumerate(exercises_of(BOOK), start=1)]
    found = outcome_of(sessions, book)
    said = " ".join([found.say, *(each for exercise in found.exercises for each in exercise.say)])
    assert "Das Auge sieht es um" in said
    assert "Als Nächstes üben" in said
    assert not any(word in said for word in (" eye ", " the ", "_", "{"))


def test_nobody_is_told_much_by_few_answers() -> None:
    few = session(1)
    few = few.model_copy(update={"drawings": few.drawings[:5]})
    [found] = outcome_of([few], BOOK).exercises
    assert found.say[1:] == ("5 answers say little; 12 are wanted.",)


def test_what_was_never_practised_comes_next_then_what_errs_most() -> None:
    assert outcome_of([], BOOK).say == "Nothing was practised yet. Practise next: width at the heel."
    every = list(exercises_of(BOOK))
    sessions = [session(seed, name) for seed, name in enumerate(every[:-1], start=1)]
    assert outcome_of(sessions, BOOK).next == every[-1]
    sessions = [session(seed, name, off=2.5 if name == "gap" else 0) for seed, name in enumerate(every, start=1)]
    assert outcome_of(sessions, BOOK).next == "gap"


def test_progress_is_told_week_by_week() -> None:
    sessions = [session(seed, day=day, off=off) for seed, day, off in ((1, 2, 2.0), (2, 10, 1.0), (3, 17, 0.0))]
    [found] = outcome_of(reversed(sessions), BOOK).exercises
    assert [week.week for week in found.weeks] == ["2026-03-02", "2026-03-09", "2026-03-16"]
    biases = [week.bias.value for week in found.weeks]
    assert biases == sorted(biases, reverse=True)
    assert (found.sessions, found.answers) == (3, 90)


def test_a_place_is_named_only_where_the_eye_errs_otherwise_there() -> None:
    even = [session(seed, off=1.0) for seed in (1, 2)]
    assert all(part.say is None for part in outcome_of(even, BOOK).exercises[0].parts)
    apart = []
    for each, other in ((session(seed, off=0.0), session(seed, off=2.5)) for seed in (1, 2, 3)):
        mixed = [
            b if b.foot == "right_hind" and b.place == "medial_heel" else a
            for a, b in zip(each.drawings, other.drawings, strict=True)
        ]
        apart.append(each.model_copy(update={"drawings": mixed}))
    said = [part.say for part in outcome_of(apart, BOOK).exercises[0].parts if part.say]
    assert any(each.startswith("Medial heel, hind feet: your eye sees it") for each in said), said
