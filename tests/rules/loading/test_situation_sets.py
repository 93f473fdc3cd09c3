"""Sets of situations as bits are what looking at each situation gives."""

from __future__ import annotations

from itertools import combinations
from typing import get_args

import pytest

from rules import Rulebook, first_rulebook, shipped_rulebook
from rules.loading.situation_sets import admitted, everywhere, stages_in
from rules.model.records import BranchSide, Context, Judges
from rules.situation import admits, situations, words_of


def _one_by_one(contexts: tuple[Context, ...] | None, side: BranchSide | None, judges: Judges) -> int:
    return sum(1 << number for number, each in enumerate(situations(judges)) if admits(contexts, each, side))


@pytest.mark.parametrize("book", [shipped_rulebook(), first_rulebook()], ids=lambda book: book.version)
def test_every_context_of_a_book_admits_the_same_situations(book: Rulebook) -> None:
    every = {record.applies for record in (*book.rules.values(), *book.joined.values())}
    assert len(every) > 1
    for contexts in every:
        for side in (None, *get_args(BranchSide)):
            assert admitted(contexts, side, book.judges) == _one_by_one(contexts, side, book.judges)


@pytest.mark.parametrize("judges", [Judges(), Judges(stages=("nailed",)), Judges(stages=("nailed", "nailed"))])
def test_any_two_words_of_a_context_admit_the_same_situations(judges: Judges) -> None:
    words = [(key, word) for key, all_words in words_of(Judges()).items() for word in all_words]
    for (key, word), (other_key, other) in combinations(words, 2):
        both = {key: (word, other)} if key == other_key else {key: (word,), other_key: (other,)}
        contexts = (Context.model_validate(both),)
        assert admitted(contexts, None, judges) == _one_by_one(contexts, None, judges), both


def test_without_contexts_everything_is_admitted_and_the_stages_are_those_of_the_book() -> None:
    judges = shipped_rulebook().judges
    assert admitted(None, None, judges) == everywhere(judges) == _one_by_one(None, None, judges)
    assert tuple(stages_in(everywhere(judges), judges)) == judges.stages
    nailed = admitted((Context(stage=("nailed",), work=("draught",)),), None, judges)
    assert tuple(stages_in(nailed, judges)) == ("nailed",)
    assert not tuple(stages_in(0, judges))
