"""Strict JSON (RFC 8259): whatever two readers could take differently, or no reader could keep, is refused.

Refused besides syntax faults: text that is not UTF-8 or starts with a byte order mark, duplicate keys, NaN and
infinity, numbers that a double cannot hold or that are absurdly long, lone surrogates, and nesting deep enough to
exhaust a parser.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate
from typing import Any, Final

from fitcheck.errors import BadInput, Problem

__all__ = ["DEEPEST", "LONGEST_NUMBER", "WHOLE", "cut", "loads"]

WHOLE: Final = "(document)"
"""The field of a problem that belongs to the document as a whole."""

DEEPEST: Final = 32
"""Objects and arrays may stand inside one another this many times; a fitting needs 6."""

LONGEST_NUMBER: Final = 100
"""A number may have this many characters; 17 digits already tell any two doubles apart."""

_BLANKS: Final = b" \t\r\n"
# An unterminated string runs to the end. Possessive, so that no text makes it try twice.
_STRING: Final = re.compile(rb'"(?:[^"\\]+|\\.)*+(?:"|\\?\Z)', re.DOTALL)
_STEP: Final = {ord("["): 1, ord("{"): 1, ord("]"): -1, ord("}"): -1}
_NO_BRACKETS: Final = bytes(byte for byte in range(256) if byte not in _STEP)
_SURROGATE: Final = re.compile(rb"\\u[dD][89a-fA-F]")
_HINTS: Final = (
    ("Expecting property name", "A key in double quotation marks belongs here."),
    ("Expecting ':'", "A colon belongs between key and value."),
    ("Expecting ','", "A comma, or the end of the object or array, belongs here."),
    ("Expecting value", "A value belongs here."),
    ("Illegal trailing comma", "Take out the comma after the last value."),
    ("Extra data", "Nothing may follow the end of the document."),
    ("Unterminated string", "The text that starts here has no closing quotation mark."),
    ("Invalid control character", "Write a line break or tab inside a text as \\n or \\t."),
    ("Invalid \\", "A backslash inside a text begins an escape that does not exist."),
)
_SHOWN: Final = 40


@dataclass(frozen=True, slots=True)
class _Refused:
    """Stands in the parsed tree where something was refused, so that its path can be told."""

    value: str
    allowed: str
    detail: str


def loads(raw: bytes) -> object:
    """The value of the JSON document ``raw``.

    Raises BadInput with one Problem that says where and what; never RecursionError.

    >>> loads(b'{"gap": 2.4}')
    {'gap': 2.4}
    >>> loads(b'{"gap": NaN}')
    Traceback (most recent call last):
    fitcheck.errors.BadInput: gap: NaN is no number in JSON. Leave out what was not measured. Allowed: a finite number.
    """
    text = _text(raw)
    _check_depth(raw)
    reader = _Reader()
    try:
        tree: object = json.loads(
            text,
            parse_int=reader.whole_number,
            parse_float=reader.broken_number,
            parse_constant=reader.constant,
            object_pairs_hook=reader.keys_once,
        )
    except json.JSONDecodeError as error:
        hint = next((words for start, words in _HINTS if error.msg.startswith(start)), "Correct the text there.")
        raise _bad(
            f"This is not JSON: line {error.lineno}, column {error.colno}. {hint}", "one JSON document (RFC 8259)"
        ) from None
    if reader.refused or _SURROGATE.search(raw):
        for path, fault in _faults(tree, ()):
            field = ".".join(cut(step) for step in path) or WHOLE
            raise BadInput([Problem(field, fault.value, fault.allowed, fault.detail)])
    return tree


class _Reader:
    """What the parser asks of us; ``refused`` tells that something in the tree stands for a fault."""

    def __init__(self) -> None:
        self.refused = False

    def whole_number(self, digits: str) -> int | _Refused:
        return int(digits) if len(digits) <= LONGEST_NUMBER else self._too_long(digits)

    def broken_number(self, digits: str) -> float | _Refused:
        if len(digits) > LONGEST_NUMBER:
            return self._too_long(digits)
        number = float(digits)
        if math.isinf(number):
            return self._refuse(digits, "a finite number", f"{cut(digits)} is too large a number. Correct it.")
        return number

    def constant(self, name: str) -> _Refused:
        return self._refuse(name, "a finite number", f"{name} is no number in JSON. Leave out what was not measured.")

    def keys_once(self, pairs: list[tuple[str, Any]]) -> dict[str, Any] | _Refused:
        table = dict(pairs)
        if len(table) == len(pairs):
            return table
        seen: set[str] = set()
        twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
        return self._refuse(
            twice, "each key once", f'The key "{cut(twice)}" stands twice in one object. Keep one of them.'
        )

    def _too_long(self, digits: str) -> _Refused:
        return self._refuse(
            digits,
            f"a number of at most {LONGEST_NUMBER} characters",
            f"A number of {len(digits)} characters is no measurement. Correct it.",
        )

    def _refuse(self, value: str, allowed: str, detail: str) -> _Refused:
        self.refused = True
        return _Refused(cut(value), allowed, detail)


def _text(raw: bytes) -> str:
    if raw.startswith(b"\xef\xbb\xbf"):
        raise _bad("The document starts with a byte order mark. Save it as UTF-8 without one.", "UTF-8 text")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _bad(f"Byte {error.start + 1} is not UTF-8 text. Save the document as UTF-8.", "UTF-8 text") from None
    if not raw.strip(_BLANKS):
        raise _bad("The document is empty. Send one JSON document.", "one JSON document (RFC 8259)")
    return text


def _check_depth(raw: bytes) -> None:
    """Refuse deep nesting before the parser, which recurses, sees it; text with a syntax fault may pass here."""
    brackets = _STRING.sub(b"", raw).translate(None, _NO_BRACKETS)
    if max(accumulate(_STEP[bracket] for bracket in brackets), default=0) > DEEPEST:
        raise _bad(
            f"Objects and arrays stand inside one another more than {DEEPEST} times. Send a flatter document.",
            f"at most {DEEPEST} levels",
        )


def _faults(value: object, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], _Refused]]:
    """Everything refused in ``value``, in the order of the document; the depth was checked before."""
    if isinstance(value, _Refused):
        yield path, value
    elif isinstance(value, dict):
        for key, part in value.items():
            if _broken(key):
                yield path, _surrogate(key)
            else:
                yield from _faults(part, (*path, key))
    elif isinstance(value, list):
        for number, part in enumerate(value):
            yield from _faults(part, (*path, str(number)))
    elif isinstance(value, str) and _broken(value):
        yield path, _surrogate(value)


def _broken(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return True
    return False


def _surrogate(text: str) -> _Refused:
    return _Refused(
        cut(text),
        "text that UTF-8 can hold",
        "A \\u escape holds one half of a pair only. Write the character itself, or both halves.",
    )


def cut(text: str, most: int = _SHOWN) -> str:
    r"""The beginning of ``text`` on one line, fit to be shown: whatever does not print is spelt out.

    >>> print(cut("two\nlines"), cut("longer", 4))
    two\nlines long…
    """
    shown = "".join(letter if letter.isprintable() else repr(letter)[1:-1] for letter in text[:most])
    return f"{shown}…" if len(text) > most else shown


def _bad(detail: str, allowed: str) -> BadInput:
    return BadInput([Problem(WHOLE, None, allowed, detail)])
