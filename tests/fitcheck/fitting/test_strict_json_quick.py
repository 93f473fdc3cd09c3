"""fitcheck.fitting.strict_json reads most documents quickly: that must never matter to what is read or refused."""

from __future__ import annotations

import json
import math
from itertools import accumulate
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fitcheck.errors import BadInput
from fitcheck.fitting import strict_json
from fitcheck.fitting.strict_json import DEEPEST, LONGEST_NUMBER, loads
from tests.support.counts import tries

DEEP = {"[": 1, "{": 1, "]": -1, "}": -1}
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


def slowly(raw: bytes) -> object:
    """As every document was read before any was read quickly."""
    text = strict_json._text(raw)
    outside = strict_json._STRING.sub(b"", raw).decode()
    if max(accumulate(DEEP.get(letter, 0) for letter in outside), default=0) > DEEPEST:
        return "too deep"
    return strict_json._read_slowly(raw, text)


def came_of(read: Any, raw: bytes) -> str:
    """What was read, to the type and sign of each number, or what was said of it."""
    try:
        return repr(read(raw))
    except BadInput as error:
        [problem] = error.problems
        return repr("too deep") if problem.allowed == f"at most {DEEPEST} levels" else repr(problem.as_dict())


@settings(max_examples=tries(300, full=50_000), deadline=None)
@given(documents())
@example(b'{"a": 1, "\\u0061": NaN}')
@example(b"[" * 33 + b'"' + b"]" * 33)
@example(b'["' + b"]" * 40 + b'", ' + b"[" * 33 + b"]" * 33 + b"]")
@example(b'["\\"' + b"]" * 40 + b'", ' + b"[" * 32 + b"]" * 32 + b"]")
def test_a_document_is_read_or_refused_just_as_if_it_were_read_slowly(raw: bytes) -> None:
    assert came_of(loads, raw) == came_of(slowly, raw)


@settings(max_examples=tries(100, full=20_000), deadline=None)
@given(st.lists(st.sampled_from(b'[]{}"\\:a'), max_size=60).map(bytes))
@example(b'"[""]"')
@example(b'"\\"["')
def test_brackets_inside_a_text_are_never_counted(raw: bytes) -> None:
    outside = strict_json._STRING.sub(b"", raw)
    assert strict_json._brackets(raw) == bytes(byte for byte in outside if byte in b"[]{}")


@given(st.integers() | st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_keeps_its_type_and_every_digit(number: float) -> None:
    read: Any = loads(repr(number).encode())
    assert (type(read), read, math.copysign(1, read)) == (type(number), number, math.copysign(1, number))


@pytest.fixture
def only_quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    def read(_raw: bytes, _text: str) -> object:
        raise AssertionError("this was read slowly")

    monkeypatch.setattr(strict_json, "_read_slowly", read)


@pytest.mark.usefixtures("only_quickly")
def test_an_ordinary_fitting_is_read_quickly(root: Path) -> None:
    files = sorted((root / "cases_demo").glob("*.json"))
    assert len(files) > 10
    for file in files:
        raw = file.read_bytes()
        assert loads(raw) == json.loads(raw), file.name


@pytest.mark.usefixtures("only_quickly")
@pytest.mark.parametrize("raw", [b"[1e5]", b"[NaN]", b"1" * 101, b'{"a": 1, "a": 1}', b'"\\ud800"', b"[1,]"])
def test_whatever_may_be_refused_is_read_slowly(raw: bytes) -> None:
    with pytest.raises(AssertionError, match="read slowly"):
        loads(raw)
