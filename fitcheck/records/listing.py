"""Records by what is asked of them: the statement that goes through as few as it can, however many there are.

A database that keeps no statistics (SQLite as it is here) takes every index on a column that must be equal for as good
as the other, and then goes through all assessments for the few of one horse. So on SQLite just one index is left to it:
that of the narrowest column asked for. PostgreSQL knows how its values are spread, and chooses by itself; but it takes
the records of a day to be spread over the whole store, and would look for them from its end on. So both are led to a
few days by their index.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import sqlalchemy as sa

from fitcheck.records.finding_filter import has_finding
from fitcheck.records.record import Record, RecordFilter
from fitcheck.records.tables import (
    DAY,
    WITH_CONTENT,
    contents,
    origins,
    records,
    records_of,
    with_content,
    without_index,
)

__all__ = ["count", "listed"]

_NARROW_FIRST: Final = ("external_id", "visit", "horse", "person", "assessor")
"""Columns that few records have the same value of, and that have an index in the order of numbers."""
_BROAD: Final = ("external_system", "decision", "kind")
"""The same of columns that many records have the same value of."""
_EQUAL: Final = (*_NARROW_FIRST, *_BROAD, "foot", "stage")
_FEW: Final = 5_000
"""So many records of some days are sorted in milliseconds; of more, the first are met soon in the order of numbers."""


def listed(
    connection: sa.Connection, these: RecordFilter, *, after: int | None, newest_first: bool, limit: int
) -> list[Record]:
    """At most ``limit`` of the records wanted, in the order of numbers, beyond the one of number ``after``."""
    number = records.c.number
    leading = _leading(connection, these)
    conditions = list(_conditions(these, leading))
    every = WITH_CONTENT
    if after is not None:
        beyond, content_beyond = (
            (each < after) if newest_first else (each > after) for each in (number, contents.c.number)
        )
        conditions.append(beyond)
        every = with_content(content_beyond)
    ordered = number.desc() if newest_first else number
    if leading not in _TIMES:
        return records_of(connection.execute(every.where(*conditions).order_by(ordered).limit(limit)))
    # The numbers first: contents are long, and would be sorted with them.
    unled = number + sa.literal_column("0")
    found = sa.select(number).select_from(records)
    if _reads_answers(these):
        found = found.outerjoin_from(records, contents)
    found = found.where(*conditions).order_by(unled.desc() if newest_first else unled).limit(limit)
    return records_of(connection.execute(WITH_CONTENT.where(number.in_(found)).order_by(ordered)))


def count(connection: sa.Connection, these: RecordFilter) -> int:
    """How many records are wanted."""
    counted = sa.select(sa.func.count()).select_from(records)
    if _reads_answers(these):
        counted = counted.outerjoin_from(records, contents)
    return int(connection.execute(counted.where(*_conditions(these, _leading(connection, these)))).scalar_one())


def _reads_answers(these: RecordFilter) -> bool:
    return these.grade is not None or these.rule is not None


_TIMES: Final[dict[str, sa.ColumnElement[str]]] = {"created": records.c.created, "day": DAY}


def _leading(connection: sa.Connection, these: RecordFilter) -> str | None:
    """The column whose index is to lead to the records; None for all in their order, or where the database chooses."""
    sqlite = connection.dialect.name == "sqlite"
    for name in _NARROW_FIRST:
        if getattr(these, name) is not None:
            return name if sqlite else None
    for name, column in _TIMES.items():
        within = list(_times(these, name, column))
        if within:
            many = sa.select(records.c.number).where(*within).order_by(column).limit(1).offset(_FEW)
            if connection.execute(many).first() is None:
                return name
    if not sqlite:
        return None
    named = next((name for name in _BROAD if getattr(these, name) is not None), None)
    # Nearly all are assessments: their index would lead nowhere that the numbers do not.
    return None if named == "kind" and these.kind == "assessment" else named


def _times(these: RecordFilter, name: str, column: sa.ColumnElement[str]) -> Iterator[sa.ColumnElement[bool]]:
    """The conditions on when it was kept, or on the day of the fitting."""
    if name == "created":
        first, last = these.since, these.until
    else:
        # Every time of a day comes before the day with a tilde behind it.
        first, last = these.first_day, None if these.last_day is None else f"{these.last_day}~"
    if first is not None:
        yield column >= first
    if last is not None:
        yield column < last


def _conditions(these: RecordFilter, leading: str | None) -> Iterator[sa.ColumnElement[bool]]:
    for name in _EQUAL:
        value = getattr(these, name)
        if value is not None:
            yield _column(name, records.c[name], leading) == value
    for name, time in _TIMES.items():
        yield from _times(these, name, _column(name, time, leading))
    if these.part_of_horse is not None:
        yield sa.func.lower(records.c.horse).contains(these.part_of_horse.lower(), autoescape=True)
    if not these.superseded or these.current:
        yield ~_corrected(records)
    if these.current:
        yield records.c.foot.is_not(None)
        yield ~_looked_at_later()
    if _reads_answers(these):
        yield has_finding(contents.c.answer, grade=these.grade, rule=these.rule)


def _column(name: str, column: sa.ColumnElement[str], leading: str | None) -> sa.ColumnElement[str]:
    """The column with its index where that one leads."""
    return column if name == leading else without_index(column)


def _corrected(corrected: sa.FromClause) -> sa.ColumnElement[bool]:
    """Whether a later assessment corrects this one."""
    correction = records.alias()
    return sa.exists().where(correction.c.about == corrected.c.id, without_index(correction.c.kind) == "assessment")


def _looked_at_later() -> sa.ColumnElement[bool]:
    """Whether the same foot was assessed once more at the same visit, in the same store, and that one counts."""
    later, of_this, of_later = records.alias(), origins.alias(), origins.alias()
    origin = (
        sa.select(of_this.c.origin).where(of_this.c.number == records.c.number).correlate(records).scalar_subquery()
    )
    other = sa.select(of_later.c.origin).where(of_later.c.number == later.c.number).correlate(later).scalar_subquery()
    return sa.exists().where(
        later.c.visit == records.c.visit,
        later.c.foot == records.c.foot,
        later.c.number > records.c.number,
        without_index(later.c.kind) == "assessment",
        other.is_not_distinct_from(origin),
        ~_corrected(later),
    )
