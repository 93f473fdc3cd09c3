"""The eyes of several people side by side: in the order of their ids, or where a school ranks them, of their errors."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from fitcheck.eye.eye import stored_eye
from fitcheck.eye.models import EyeFigure, EyeGroup
from fitcheck.eye.sentences import Sentences
from fitcheck.records import RecordFilter, Store
from fitcheck.scales import Scale, scales
from fitcheck.text.catalogue import messages_of
from rules import Rulebook

__all__ = ["EyeRow", "side_by_side"]

_LATEST: Final = 500
"""Records among which the people are looked for."""
_MOST: Final = 40
"""People that are shown."""


class EyeRow(NamedTuple):
    """One quantity of one person; figures in words, None where they are open."""

    person: str
    title: str
    pairs: int
    missing: int
    bias: str | None
    spread: str | None
    size: float | None
    """Of the error of a look: the root of the sum of the squares of bias and spread, on the line of looks."""
    error: str | None
    """The same in words; None where one of the two is open."""


def side_by_side(store: Store, assessor: str | None, book: Rulebook, *, ranked: bool = False) -> list[EyeRow]:
    """A row for each person and quantity with pairs; of an ``assessor`` the people whose work they looked at.

    ``ranked``: quantity by quantity, the smallest error first; then those of whom it is open or too few pairs are
    there, by their ids. Raises TooManyRecords and StoreError.
    """
    record_filter = RecordFilter(assessor=assessor, kind="assessment", superseded=False)
    latest = store.records(record_filter, limit=_LATEST)
    sentences = Sentences(book)
    people = sorted({record.person for record in latest if record.person is not None})[:_MOST]
    rows = [row for person in people for row in _rows(store, person, book)]
    if not ranked:
        return rows
    titles = {sentences.title(name): number for number, name in enumerate(scales())}
    return sorted(rows, key=lambda row: (titles[row.title], math.inf if row.size is None else row.size))


def _rows(store: Store, person: str, book: Rulebook) -> Iterator[EyeRow]:
    sentences, messages = Sentences(book), messages_of(book)
    for each in stored_eye(store, person, book, brief=True).quantities:
        unit = messages.say(f"eye.unit.{each.error_unit}")
        group: EyeGroup = each.groups[0]
        scale = scales()[each.quantity]
        size = _size(group, scale)
        yield EyeRow(
            person,
            each.title,
            each.pairs,
            each.missing,
            _shown(group.bias, unit, sentences),
            _shown(group.spread, unit, sentences),
            size,
            None if size is None else f"{sentences.number(scale.error_of(size))} {unit}",
        )


def _size(group: EyeGroup, scale: Scale) -> float | None:
    bias, spread = group.bias, group.spread
    if bias is None or bias.value is None or spread is None or spread.value is None:
        return None
    # Of one horse, say, both are figures that may as well be others.
    if bias.low is None or bias.high is None or spread.high is None:
        return None
    return math.hypot(scale.error_on_line(bias.value), scale.error_on_line(spread.value))


def _shown(figure: EyeFigure | None, unit: str, sentences: Sentences) -> str | None:
    if figure is None or (figure.value, figure.low, figure.high) == (None, None, None):
        return None
    if figure.value is None:
        return sentences.interval(figure)
    return f"{sentences.number(figure.value)} {unit} {sentences.interval(figure)}"
