"""The eyes of several people side by side, in the order of their ids: nobody is ranked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from fitcheck.eye.eye import stored_eye
from fitcheck.eye.models import EyeFigure, EyeGroup
from fitcheck.eye.sentences import Sentences
from fitcheck.records import RecordFilter, Store
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


def side_by_side(store: Store, assessor: str | None, book: Rulebook) -> list[EyeRow]:
    """A row for each person and quantity with pairs; of an ``assessor`` the people whose work they looked at.

    Raises TooManyRecords and StoreError.
    """
    record_filter = RecordFilter(assessor=assessor, kind="assessment", superseded=False)
    latest = store.records(record_filter, limit=_LATEST)
    people = sorted({record.person for record in latest if record.person is not None})[:_MOST]
    return [row for person in people for row in _rows(store, person, book)]


def _rows(store: Store, person: str, book: Rulebook) -> Iterator[EyeRow]:
    sentences, messages = Sentences(book), messages_of(book)
    for each in stored_eye(store, person, book, brief=True).quantities:
        unit = messages.say(f"eye.unit.{each.unit}")
        group: EyeGroup = each.groups[0]
        yield EyeRow(
            person,
            each.title,
            each.pairs,
            each.missing,
            _shown(group.bias, unit, sentences),
            _shown(group.spread, unit, sentences),
        )


def _shown(figure: EyeFigure | None, unit: str, sentences: Sentences) -> str | None:
    if figure is None or (figure.value is None and figure.high is None):
        return None
    if figure.value is None:
        return sentences.interval(figure)
    return f"{sentences.number(figure.value)} {unit} {sentences.interval(figure)}"
