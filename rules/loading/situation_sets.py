"""Sets of situations as bits of whole numbers: bit ``n`` stands for the situation with that number among all.

A book judges hundreds of situations.  What contexts admit is then a few "and" and "or" of whole numbers, where looking
at each situation took the loading of the shipped book 60 ms more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from math import prod

from rules.model.records import BranchSide, Context, Judges, Stage
from rules.situation import words_of

__all__ = ["admitted", "everywhere", "stages_in"]


def admitted(contexts: tuple[Context, ...] | None, side: BranchSide | None, judges: Judges) -> int:
    """The situations that any of ``contexts`` (all situations when None) admits on ``side``.

    The same as asking :func:`rules.situation.admits` of each of :func:`rules.situation.situations`.
    """
    if contexts is None:
        return everywhere(judges)
    some = 0
    for context in contexts:
        some |= _held(context, side, judges)
    return some


@cache
def everywhere(judges: Judges) -> int:
    """All situations that a book judges."""
    return (1 << prod(len(words) for words in words_of(judges).values())) - 1


def stages_in(some: int, judges: Judges) -> Iterator[Stage]:
    """The stages, in the order of the work, of the situations ``some``."""
    having = _having(judges)["stage"]
    return (stage for stage in judges.stages if some & having[stage])


def _held(context: Context, side: BranchSide | None, judges: Judges) -> int:
    """The situations in which ``context`` holds on ``side``."""
    if context.side is not None and side not in context.side:
        return 0
    held = everywhere(judges)
    for key, having in _having(judges).items():
        words = getattr(context, key)
        if words is not None:
            some = 0
            for word in words:
                some |= having.get(word, 0)
            held &= some
    return held


@cache
def _having(judges: Judges) -> Mapping[str, Mapping[str, int]]:
    """For each key of a situation and each of its words the situations that have it."""
    table: dict[str, dict[str, int]] = {}
    parts = words_of(judges)
    run = prod(map(len, parts.values()))
    for key, words in parts.items():
        # Situations are numbered with the last key changing first: a word stands in runs, one in each ``period``.
        period, run = run, run // len(words)
        starts = sum(1 << start for start in range(0, everywhere(judges).bit_length(), period))
        having = table[key] = dict.fromkeys(words, 0)
        for number, word in enumerate(words):
            having[word] |= (((1 << run) - 1) << number * run) * starts
    return table
