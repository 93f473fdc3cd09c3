"""Records as CSV (RFC 4180), one a row, to be looked at in a spreadsheet and taken in again.

A cell that a spreadsheet would take for a formula gets an apostrophe before it, and so does one that begins with an
apostrophe; reading takes just that one off. Columns are the record's fields, then its body and its answer.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from typing import Any, BinaryIO, Final, NamedTuple

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import WHOLE
from fitcheck.records.exchange.portable import BASE64, CONTENTS, FIELDS, LONGEST_LINE, fields_of
from fitcheck.records.record import Record
from fitcheck.records.tables import LATER, PERSONAL

__all__ = ["COLUMNS", "HEADING", "Row", "fields_in", "plain_cell", "row_of", "rows_in", "safe_cell"]

_COLUMN_OF: Final = dict(zip(CONTENTS, ("fitting", "assessment"), strict=True))
COLUMNS: Final = (*FIELDS, *_COLUMN_OF.values())
_MARK: Final = "base64:"
_NUMBER: Final = re.compile("[0-9]{1,18}")
_ERASED: Final = {"true": True, "false": False, "TRUE": True, "FALSE": False}
"""The words for yes and no; a spreadsheet writes them its own way."""
_EMPTY_IS_NOTHING: Final = frozenset({*PERSONAL, "about", "source", "salt"})

_RFC_4180: Final = "cells as RFC 4180 has them"
_APOSTROPHE: Final = "'"
# OWASP, "CSV Injection": = + - @, tab, carriage return, line feed, and the wide forms of the signs; also behind blanks
# and signs that show as none, which some spreadsheets take away.
_GUARDED: Final = re.compile(
    "[\t\r\n']|[\\s\0-\x1f\x7f-\xa0\xad\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]*"
    "[=+\\-@\uff1d\uff0b\uff0d\uff20\u2212]"
)


class Row(NamedTuple):
    """A row: the line on which it begins, counted from 1, and its cells by column; a Problem where it is none."""

    number: int
    cells: Mapping[str, str] | Problem


def safe_cell(text: str) -> str:
    """The text as no spreadsheet takes it for a formula.

    >>> safe_cell("=1+1"), safe_cell("H-017"), safe_cell("'tis")
    ("'=1+1", 'H-017', "''tis")
    """
    return _APOSTROPHE + text if _GUARDED.match(text) else text


def plain_cell(cell: str) -> str:
    """The text of a cell, as it was before :func:`safe_cell`."""
    return cell[1:] if cell.startswith(_APOSTROPHE) and _GUARDED.match(cell, 1) else cell


def row_of(record: Record) -> bytes:
    """The record's row, with its end."""
    fields = fields_of(record)
    cells = [_cell(fields[name]) for name in FIELDS]
    contents = [safe_cell(fields[name]) if name in fields else _MARK + fields[name + BASE64] for name in CONTENTS]
    return _line([*cells, *contents])


def rows_in(stream: BinaryIO) -> Iterator[Row]:
    """The rows of the stream, one at a time in memory. Raises BadInput where its first is not the columns' names."""
    csv.field_size_limit(LONGEST_LINE)
    # A byte order mark is what some spreadsheets begin with; what is not UTF-8 spoils only its own row.
    text = io.TextIOWrapper(stream, encoding="utf-8-sig", errors="surrogateescape", newline="")
    reader = csv.reader(text, strict=True)
    try:
        try:
            names = _names(next(reader, []))
        except csv.Error:
            raise BadInput(
                [_problem(_RFC_4180, "The first row cannot be read as CSV. Export shows how it is.")]
            ) from None
        while True:
            number = reader.line_num + 1
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error:
                yield Row(number, _problem(_RFC_4180, "From here on it cannot be read as CSV."))
                return
            if cells:
                yield Row(number, _by_name(names, cells))
    finally:
        text.detach()


def fields_in(cells: Mapping[str, str]) -> dict[str, Any]:
    """The record's fields that the cells are, for ``portable.record_of``. Raises BadInput."""
    fields: dict[str, Any] = {}
    for name in FIELDS:
        text = plain_cell(cells.get(name, ""))
        if name == "number":
            fields[name] = int(text) if _NUMBER.fullmatch(text) else text
        elif name == "erased":
            fields[name] = _ERASED.get(text, text)
        else:
            fields[name] = None if not text and name in _EMPTY_IS_NOTHING else text
    for name, column in _COLUMN_OF.items():
        cell = cells[column]
        if cell.startswith(_MARK):
            fields[name + BASE64] = cell.removeprefix(_MARK)
        else:
            fields[name] = plain_cell(cell)
    return fields


def _cell(value: object) -> str:
    if value is None:
        return ""
    return str(value).lower() if isinstance(value, bool) else safe_cell(str(value))


def _line(cells: list[str]) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out).writerow(cells)
    return out.getvalue().encode()


HEADING: Final = _line(list(COLUMNS))
"""The first row: the names of the columns."""


def _names(first: list[str]) -> list[str]:
    missing = [name for name in COLUMNS if name not in first and name not in LATER]
    if missing:
        allowed = f"a first row with the columns {', '.join(COLUMNS)}, parted by commas"
        raise BadInput([_problem(allowed, f"The first row has no column {missing[0]}. Export shows how it is.")])
    twice = next((name for name in first if first.count(name) > 1), None)
    unknown = next((name for name in first if name not in COLUMNS), None)
    if twice is not None or unknown is not None:
        what = f"stands twice: {twice}" if twice is not None else f"is not known: {unknown!s:.40}"
        raise BadInput([_problem(f"the columns {', '.join(COLUMNS)}, each once", f"A column {what}. Take it out.")])
    return first


def _by_name(names: list[str], cells: list[str]) -> Mapping[str, str] | Problem:
    if len(cells) != len(names):
        return _problem(f"{len(names)} cells", f"This row has {len(cells)} cells.")
    return dict(zip(names, cells, strict=True))


def _problem(allowed: str, detail: str) -> Problem:
    return Problem(WHOLE, None, allowed, detail)
