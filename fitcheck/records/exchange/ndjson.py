"""Records as lines of JSON, one a record, to be read again by an importer."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, BinaryIO, Final, NamedTuple

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import WHOLE, loads
from fitcheck.records.exchange.portable import fields_of
from fitcheck.records.record import Record

__all__ = ["BACKUP_KEY", "LONGEST_LINE", "RawLine", "line_of", "object_in", "raw_lines"]

BACKUP_KEY: Final = "backup"
"""A line with this key is a backup's own, and no record."""

LONGEST_LINE: Final = 32 * 1024 * 1024
"""Bytes. A record has less: a body and its answer are at most a few of them, and escapes make them longer."""


class RawLine(NamedTuple):
    """A line that is not blank: its number, counted from 1 over all, and its bytes; None where it is too long."""

    number: int
    raw: bytes | None


def line_of(record: Record) -> bytes:
    """The record's line, with its end."""
    return json.dumps(fields_of(record), ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def raw_lines(stream: BinaryIO, longest: int = LONGEST_LINE) -> Iterator[RawLine]:
    """The lines of the stream that are not blank, one at a time in memory."""
    number = 0
    while piece := stream.readline(longest + 1):
        number += 1
        too_long = len(piece) > longest
        while too_long and piece and not piece.endswith(b"\n"):
            piece = stream.readline(longest + 1)
        raw = None if too_long else piece.rstrip(b"\r\n")
        if raw is None or raw.strip():
            yield RawLine(number, raw)


def object_in(line: RawLine) -> dict[str, Any]:
    """The JSON object that the line is. Raises BadInput."""
    if line.raw is None:
        raise BadInput([Problem(WHOLE, None, f"lines of at most {LONGEST_LINE} bytes", "This line is too long.")])
    found = loads(line.raw)
    if not isinstance(found, dict):
        raise BadInput([Problem(WHOLE, None, "one JSON object in each line", "This line is another JSON value.")])
    return found
