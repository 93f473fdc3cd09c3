"""fitcheck.fitting.strict_json against Python's own reader and a plain statement of what is refused."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from fitcheck.errors import BadInput
from fitcheck.fitting.strict_json import DEEPEST, LONGEST_NUMBER, loads
from tests.support.counts import tries

NUMBERS = [
    *("0", "-0", "-0.0", "2.4", "-17", "0.1", "5e-324", "1e400", "-1E400", "1E-400", "1.5e3", "2E+2", "1e5"),
    *("9007199254740993", "123456789012345678901234567890.5", "0.30000000000000004", "1e0000000000000000000001"),
    *("1" * LONGEST_NUMBER, "1" * (LONGEST_NUMBER + 1), "-" + "1" * LONGEST_NUMBER, "1" * 5000),
    *("0." + "3" * (LONGEST_NUMBER - 2), "0." + "3" * (LONGEST_NUMBER - 1), "1." + "0" * 200 + "e9"),
    *("NaN", "Infinity", "-Infinity"),
    *("01", "1.", ".5", "+1", "-", "1e", "1e+", "1.e3", "0x10", "1_0", "\uff11"),
]
TEXTS = [
    *('""', '"a"', '"9e9"', '"1e400"', '"-----"', '"true"', '"' + "7" * 150 + '"', '"Fuß 😀"'),
    *('"["', '"]"', '"{}"', '"' + "[" * 40 + '"', '"' + "]" * 40 + '"', '"10:30"', '","'),
    *('"\\""', '"\\\\"', '"\\\\\\""', '"\\"["', '"\\"]\\""', '"\\n"', '"\\x"', '"\\u00e9"', '"\\u005b"', '"\\u12"'),
    *('"\\ud800"', '"\\uDFFF"', '"\\ud83d\\ude00"', '"\\ud83d\\ud83d"', '"\\\\ud800"', '"a\tb"', '"', '"\\'),
]
KEYS = ['"a"', '"b"', '"gap"', '"\\u0061"', '""', '"{"', '"\\ud800"']
WORDS = ["true", "false", "null", "nul", "True", "", "//"]
BLANKS = st.sampled_from(["", "", " ", "\n", "\t \r\n"])

leaves = st.sampled_from(NUMBERS) | st.sampled_from(TEXTS) | st.sampled_from(WORDS) | st.floats().map(json.dumps)


def _joined(parts: list[str], blank: str, ends: str) -> str:
    return ends[0] + f"{blank},{blank}".join(parts) + ends[1]


def _grown(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    pairs = st.builds("{}{}:{}".format, st.sampled_from(KEYS), BLANKS, inner)
    return (
        st.builds(_joined, st.lists(inner, max_size=4), BLANKS, st.just("[]"))
        | st.builds(_joined, st.lists(pairs, max_size=4), BLANKS, st.just("{}"))
        | st.builds(lambda part, deep: "[" * deep + part + "]" * deep, inner, st.sampled_from([1, 29, 30, 31, 32, 33]))
    )


texts = st.recursive(leaves, _grown, max_leaves=40)


@st.composite
def documents(draw: st.DrawFn) -> bytes:
    """Documents of what is hard to read, some of them broken at a few places."""
    raw = draw(st.builds("{}{}{}".format, BLANKS, texts, BLANKS)).encode()
    for _ in range(draw(st.sampled_from([0, 0, 0, 1, 2]))):
        spot = draw(st.integers(0, len(raw)))
        strange = draw(
            st.sampled_from([b"", b'"', b"\\", b"[", b"}", b",", b"9", b"e", b"\x00", b"\xff", b"\xef\xbb\xbf"])
        )
        raw = raw[:spot] + strange + raw[spot + draw(st.integers(0, 2)) :]
    return raw


def deepest(text: str) -> int:
    """How deep brackets stand inside one another, letter by letter; those inside a string do not count."""
    depth = most = 0
    inside = escaped = False
    for letter in text:
        if inside:
            inside = escaped or letter != '"'
            escaped = letter == "\\" and not escaped
        elif letter == '"':
            inside = True
        elif letter in "[{":
            depth += 1
            most = max(most, depth)
        elif letter in "]}":
            depth -= 1
    return most


def may_be_read(raw: bytes) -> bool:
    """Whether nothing that the module's docstring names is in ``raw``: stated with Python's reader and no other."""
    numbers: list[str] = []
    objects: list[list[tuple[str, Any]]] = []

    def kept(pairs: list[tuple[str, Any]]) -> list[tuple[str, Any]]:
        objects.append(pairs)
        return pairs

    try:
        text = raw.decode("utf-8")
        if text.startswith("\ufeff") or deepest(text) > DEEPEST:
            return False
        tree = json.loads(
            text, parse_int=numbers.append, parse_float=numbers.append, parse_constant=numbers.append,
            object_pairs_hook=kept,
        )  # fmt: skip
        json.dumps(tree, ensure_ascii=False).encode("utf-8")
    except (UnicodeError, json.JSONDecodeError):
        return False
    return all(len(digits) <= LONGEST_NUMBER and math.isfinite(float(digits)) for digits in numbers) and all(
        len({key for key, _ in pairs}) == len(pairs) for pairs in objects
    )


@settings(max_examples=tries(300, full=50_000), deadline=None)
@given(documents())
@example(b'{"a": 1, "\\u0061": NaN}')
@example(b"[" * 33 + b'"' + b"]" * 33)
@example(b'["' + b"]" * 40 + b'", ' + b"[" * 33 + b"]" * 33 + b"]")
@example(b'["\\"' + b"]" * 40 + b'", ' + b"[" * 32 + b"]" * 32 + b"]")
def test_a_document_is_refused_for_what_is_named_and_else_read_as_python_reads_it(raw: bytes) -> None:
    try:
        read = loads(raw)
    except BadInput as error:
        [problem] = error.problems
        assert problem.detail, "a refusal says why"
        assert not may_be_read(raw)
    else:
        assert may_be_read(raw)
        assert repr(read) == repr(json.loads(raw))


@settings(max_examples=tries(100, full=20_000), deadline=None)
@given(st.lists(st.sampled_from('[]{}"\\:a'), max_size=120).map("".join))
@example('"[""]"')
@example('"\\"["')
@example("[" * 33)
def test_brackets_inside_a_text_are_never_counted(text: str) -> None:
    try:
        loads(text.encode())
    except BadInput as error:
        [problem] = error.problems
        assert (problem.allowed == f"at most {DEEPEST} levels") == (deepest(text) > DEEPEST)
    else:
        assert deepest(text) <= DEEPEST


@given(st.integers() | st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_keeps_its_type_and_every_digit(number: float) -> None:
    read: Any = loads(repr(number).encode())
    assert (type(read), read, math.copysign(1, read)) == (type(number), number, math.copysign(1, number))


def test_the_demo_feet_are_read_as_python_reads_them(root: Path) -> None:
    files = sorted((root / "cases_demo").glob("*.json"))
    assert len(files) > 10
    for file in files:
        raw = file.read_bytes()
        assert loads(raw) == json.loads(raw), file.name
