"""A record outside of a store: everything of it as plain fields, and the record that such fields are, checked.

A body or an answer that is JSON in UTF-8 goes as text, just as it is; anything else goes as base64. What comes in is
held against its own digests, and the columns against the fitting and the assessment that they are of.
"""

from __future__ import annotations

import base64
import binascii
import json
import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, BinaryIO, Final, NamedTuple, get_args

from pydantic_core import from_json

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import WHOLE, loads
from fitcheck.fitting.validation import summary
from fitcheck.records.chain import content_digest, record_digest
from fitcheck.records.record import Kind, Record
from fitcheck.records.tables import LATER, PERSONAL

__all__ = [
    "BACKUP_KEY",
    "BASE64",
    "CONTENTS",
    "FIELDS",
    "LONGEST_LINE",
    "RawLine",
    "check_content",
    "fields_of",
    "line_of",
    "object_in",
    "raw_lines",
    "record_of",
    "text_of",
]

FIELDS: Final = (
    "number",
    "id",
    "kind",
    "created",
    *PERSONAL,
    "rulebook_version",
    "rulebook_digest",
    "about",
    "source",
    "salt",
    "content_digest",
    "previous",
    "digest",
    "erased",
)
"""All fields but those of the content."""

CONTENTS: Final = ("received", "answer")
BASE64: Final = "_base64"
"""A content that is no text stands under its name with this behind it."""

_NULLABLE: Final = frozenset({*PERSONAL, "about", "source", "salt"})
_DIGESTS: Final = ("rulebook_digest", "content_digest", "previous", "digest")
_DIGEST: Final = re.compile(r"sha256:[0-9a-f]{64}")
_SALT: Final = re.compile(r"[0-9a-f]{32}")
_CREATED: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", re.ASCII)
_LONGEST: Final = 200
_MOST: Final = 2**53 - 1
"""The largest whole number that canonical JSON has."""
_NOT_IN_TEXT: Final = re.compile(r"[\x00-\x1f\x7f\ud800-\udfff]")
_CHANGED: Final = "Something of this record was changed after it was written. Take it anew from where it was kept."


def text_of(content: bytes) -> str | None:
    r"""The text of a content that is a JSON object in UTF-8, or empty; None for anything else.

    >>> text_of(b'{"a": 1}\n'), text_of(b"\xff"), text_of(b"")
    ('{"a": 1}\n', None, '')
    """
    if content and not content.lstrip(b" \t\r\n").startswith(b"{"):
        return None
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return None


def fields_of(record: Record) -> dict[str, Any]:
    """Everything of the record as JSON values."""
    fields: dict[str, Any] = {name: getattr(record, name) for name in FIELDS}
    for name in CONTENTS:
        content: bytes = getattr(record, name)
        text = text_of(content)
        if text is None:
            fields[name + BASE64] = base64.b64encode(content).decode("ascii")
        else:
            fields[name] = text
    return fields


def record_of(fields: Mapping[str, Any]) -> Record:
    """The record that ``fields`` are, as :func:`fields_of` gives them, held against its own digests.

    What came later may be missing, as in what an older release wrote.

    Raises BadInput for the first field that is wrong.
    """
    fields = dict.fromkeys(LATER) | dict(fields)
    for problem in _of_form(fields):
        raise BadInput([problem])
    whole: dict[str, Any] = {name: fields[name] for name in FIELDS} | {
        name: _content(fields, name) for name in CONTENTS
    }
    record = Record(**whole)
    for problem in _of_digests(record):
        raise BadInput([problem])
    return record


def check_content(record: Record) -> None:
    """Raise BadInput where the columns of an assessment say something else than its fitting and its answer do."""
    for problem in _of_content(record):
        raise BadInput([problem])


def _of_form(fields: Mapping[str, Any]) -> Iterator[Problem]:
    known = {*FIELDS, *CONTENTS, *(name + BASE64 for name in CONTENTS)}
    for name in fields:
        if name not in known:
            yield _problem(name, fields, "the fields that an export has", "There is no such field. Take it out.")
    for name in FIELDS:
        if name not in fields:
            yield Problem(name, None, "this field is required", "It is missing.")
        elif (wrong := _wrong(name, fields[name])) is not None:
            yield _problem(name, fields, *wrong)


def _wrong(name: str, value: Any) -> tuple[str, str] | None:  # noqa: PLR0911  (one return for each kind of field)
    """What is allowed there, and what is wrong; None where nothing is."""
    if name == "number":
        whole = isinstance(value, int) and not isinstance(value, bool) and 0 < value <= _MOST
        return None if whole else (f"a whole number from 1 to {_MOST}", "It is no record's number.")
    if name == "erased":
        return None if isinstance(value, bool) else ("true or false", "It is neither.")
    if value is None and name in _NULLABLE:
        return None
    if not isinstance(value, str):
        return "text" + (", or null" if name in _NULLABLE else ""), "It is not text."
    if name == "kind":
        return None if value in get_args(Kind) else (f"one of {', '.join(get_args(Kind))}", "There is no such kind.")
    if name == "created":
        allowed = "UTC as in 2026-03-04T10:00:00.000Z"
        return None if _CREATED.fullmatch(value) and _is_time(value) else (allowed, "It is no such time.")
    if name == "salt":
        return None if _SALT.fullmatch(value) else ("32 hexadecimal digits", "It is no salt.")
    if name in _DIGESTS or name == "source":
        erasure = name == "rulebook_digest" and not value
        right = erasure or _DIGEST.fullmatch(value)
        return None if right else ("sha256: and 64 hexadecimal digits", "It is no digest.")
    least = 0 if name == "rulebook_version" else 1
    if least <= len(value) <= _LONGEST and not _NOT_IN_TEXT.search(value):
        return None
    return f"{least} to {_LONGEST} characters, none of them a control character", "It is not written as it must be."


def _is_time(text: str) -> bool:
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def _content(fields: Mapping[str, Any], name: str) -> bytes:
    coded = name + BASE64
    if (name in fields) == (coded in fields):
        raise BadInput([Problem(name, None, f"either {name} or {coded}", "Just one of them belongs here.")])
    which = name if name in fields else coded
    value = fields[which]
    if not isinstance(value, str):
        raise BadInput([_problem(which, fields, "text", "It is not text.")])
    try:
        return value.encode("utf-8") if which == name else base64.b64decode(value, validate=True)
    except (UnicodeEncodeError, binascii.Error):
        allowed = "text in UTF-8" if which == name else "base64 (RFC 4648)"
        raise BadInput([_problem(which, fields, allowed, "It cannot be read.")]) from None


def _of_digests(record: Record) -> Iterator[Problem]:
    """What does not fit the record's own digests. They guard against accidents: anybody can compute new ones."""
    row = {name: getattr(record, name) for name in FIELDS}
    if record.erased or record.salt is None:
        there = [name for name in (*PERSONAL, "salt") if row[name] is not None]
        there += [name for name in CONTENTS if getattr(record, name)]
        if not record.erased:
            yield Problem("salt", None, "32 hexadecimal digits", "Only an erased record has none.")
        for name in there:
            yield _problem(
                name, row, "nothing in an erased record", "This record is erased, yet something stands here."
            )
    elif content_digest(record.salt, record.received, record.answer, row) != record.content_digest:
        yield _problem("content_digest", row, "the digest of body, answer and names", _CHANGED)
    if record_digest(row) != record.digest:
        yield _problem("digest", row, "the digest of the record", _CHANGED)


def _of_content(record: Record) -> Iterator[Problem]:
    """Where the columns of an assessment say something else than its fitting and its answer do."""
    if record.erased or record.kind == "erasure":
        return
    answer = _object("answer", record.answer)
    fitting = _object("received", record.received)
    if record.kind != "assessment":
        return
    horse = _inside(fitting, "horse")
    values = {
        "id": answer.get("id"),
        "created": answer.get("created"),
        "person": _inside(fitting, "person").get("id"),
        "assessor": _inside(fitting, "assessor").get("id"),
        "horse": horse.get("id") or horse.get("ueln") or horse.get("transponder"),
        "foot": fitting.get("foot"),
        "visit": fitting.get("visit"),
        "stage": fitting.get("stage"),
        "decision": answer.get("decision"),
        "fitted": _inside(_inside(fitting, "observations"), "history").get("fitted"),
        "external_system": _inside(fitting, "external").get("system"),
        "external_id": _inside(fitting, "external").get("id"),
        "rulebook_version": _inside(answer, "rulebook").get("version"),
        "rulebook_digest": _inside(answer, "rulebook").get("digest"),
    }
    for name, value in values.items():
        if getattr(record, name) != value:
            allowed = "what the fitting or the assessment says" + (f': "{value}"' if isinstance(value, str) else "")
            yield Problem(name, summary(getattr(record, name)), allowed, "It says something else than the content.")


def _object(name: str, content: bytes) -> dict[str, Any]:
    try:
        value = from_json(content, allow_inf_nan=False)
    except ValueError:
        value = None
    if not isinstance(value, dict):
        raise BadInput([Problem(name, None, "a JSON object", "It is none.")])
    return value


def _inside(document: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = document.get(key)
    return value if isinstance(value, Mapping) else {}


def _problem(name: str, fields: Mapping[str, Any], allowed: str, detail: str) -> Problem:
    return Problem(name, summary(fields[name]), allowed, detail)


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
