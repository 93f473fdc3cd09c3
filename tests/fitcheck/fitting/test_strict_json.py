"""fitcheck.fitting.strict_json: what RFC 8259 says and what two readers could take differently."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import DEEPEST, LONGEST_NUMBER, WHOLE, loads


def refusal(raw: bytes) -> Problem:
    with pytest.raises(BadInput) as caught:
        loads(raw)
    [problem] = caught.value.problems
    # Whatever is told must be fit for an answer in JSON and UTF-8.
    json.dumps(problem.as_dict(), ensure_ascii=False, allow_nan=False).encode()
    assert len(problem.detail) < 200
    assert problem.detail.endswith(".")
    assert problem.allowed
    return problem


@pytest.mark.parametrize(
    ("raw", "value"),
    [
        (b'{"foot": "left_fore", "gaps": [0, -0.5, 1e2], "clip": null, "rocks": false}', None),
        (b' \t\r\n"text"\n', None),
        ('{"é": "Fuß", "face": "😀"}'.encode(), None),
        (b'"\\ud83d\\ude00 \\u00e9 \\n \\/"', "😀 é \n /"),
        (b"-0", 0),
        (b"1E-400", 0.0),
        (b"[" * DEEPEST + b"]" * DEEPEST, None),
        (b'"' + b"[{" * 100 + b'"', None),
        (b'"\\"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[["', None),
        (b"9" * LONGEST_NUMBER, None),
    ],
)
def test_strict_json_is_read_as_any_reader_reads_it(raw: bytes, value: Any) -> None:
    assert loads(raw) == (json.loads(raw) if value is None else value)


@pytest.mark.parametrize(
    ("raw", "line", "column"),
    [
        (b'{"foot" "left_fore"}', 1, 9),
        (b"{'foot': 1}", 1, 2),
        (b'{\n  "foot": left_fore\n}', 2, 11),
        (b"[1 2]", 1, 4),
        (b"{} {}", 1, 4),
        (b'{\n"foot": "left', 2, 9),
        (b'["a\tb"]', 1, 4),
        (b'["\\x"]', 1, 3),
        (b'["\\u12"]', 1, 4),
        (b"01", 1, 2),
        (b"nul", 1, 1),
        (b"\x00", 1, 1),
        ("\u00a01".encode(), 1, 1),
        ("\uff11".encode(), 1, 1),
        (b"[0x10]", 1, 3),
        (b"// a note\n1", 1, 1),
        (b'{"a": [1, 2', 1, 12),
    ],
)
def test_a_syntax_fault_is_told_with_its_line_and_column(raw: bytes, line: int, column: int) -> None:
    problem = refusal(raw)
    assert problem.field == WHOLE
    assert f"line {line}, column {column}." in problem.detail
    assert "RFC 8259" in problem.allowed


@pytest.mark.parametrize("raw", [b'{"a": 1,}', b"[1,]"])
def test_a_trailing_comma_is_a_syntax_fault(raw: bytes) -> None:
    # Which column is told depends on the interpreter: that of the comma or of what follows it.
    assert "line 1, column" in refusal(raw).detail


@pytest.mark.parametrize(
    ("raw", "field", "value"),
    [
        (b'{"a": {"gap": NaN}}', "a.gap", "NaN"),
        (b'{"a": [0, Infinity]}', "a.1", "Infinity"),
        (b"-Infinity", WHOLE, "-Infinity"),
        (b'{"gap": 1e400}', "gap", "1e400"),
        (b'{"gap": -1.5E999}', "gap", "-1.5E999"),
    ],
)
def test_numbers_that_are_not_finite_are_named_with_their_field(raw: bytes, field: str, value: str) -> None:
    problem = refusal(raw)
    assert (problem.field, problem.value, problem.allowed) == (field, value, "a finite number")
    assert value in problem.detail


@pytest.mark.parametrize("number", ["1" * 101, "-" + "1" * 100, "1" * 5000, "0." + "3" * 5000, "1e" + "0" * 200 + "1"])
def test_a_number_of_too_many_digits_is_refused_before_it_is_worked_out(number: str) -> None:
    problem = refusal(f'{{"hoof": {{"wall_height": {number}}}}}'.encode())
    assert problem.field == "hoof.wall_height"
    assert problem.value == number[:40] + "…"
    assert str(len(number)) in problem.detail
    assert problem.allowed == "a number of at most 100 characters"


@pytest.mark.parametrize(
    ("raw", "field", "key"),
    [
        (b'{"foot": "left_fore", "foot": "left_fore"}', WHOLE, "foot"),
        (b'{"observations": {"nails": [{"hole": 1, "branch": "medial", "hole": 2}]}}', "observations.nails.0", "hole"),
        (b'{"a": 1, "\\u0061": 2}', WHOLE, "a"),
        (b'{"a": NaN, "a": 1}', WHOLE, "a"),
        (b'{"": 1, "": 1}', WHOLE, ""),
    ],
)
def test_a_key_that_stands_twice_is_named(raw: bytes, field: str, key: str) -> None:
    problem = refusal(raw)
    assert (problem.field, problem.value, problem.allowed) == (field, key, "each key once")
    assert f'"{key}"' in problem.detail


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        (b'{"notes": "\\ud800"}', "notes"),
        (b'{"notes": ["ok", "\\ud83d\\ud83d"]}', "notes.1"),
        (b'{"horse": {"\\uDFFF": 1}}', "horse"),
        (b'"\\udc00\\ud800"', WHOLE),
    ],
)
def test_half_a_surrogate_pair_is_refused_since_no_answer_could_carry_it(raw: bytes, field: str) -> None:
    assert refusal(raw).field == field


def test_a_key_with_half_a_pair_that_stands_twice_can_still_be_told() -> None:
    assert "twice" in refusal(b'{"\\ud800": 1, "\\ud800": 2}').detail


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "empty"),
        (b" \r\n\t ", "empty"),
        (b"\xef\xbb\xbf{}", "byte order mark"),
        (b'{"a": "\xff"}', "Byte 8 is not UTF-8"),
        (b'"\xed\xa0\x80"', "Byte 2 is not UTF-8"),
        (b'"\xc0\xaf"', "Byte 2 is not UTF-8"),
        ('{"é": 1}'.encode("latin-1"), "Byte 3 is not UTF-8"),
        ("{}".encode("utf-16"), "Byte 1 is not UTF-8"),
    ],
)
def test_what_is_not_utf_8_text_is_refused(raw: bytes, words: str) -> None:
    problem = refusal(raw)
    assert problem.field == WHOLE
    assert words in problem.detail


@pytest.mark.parametrize(
    "raw",
    [
        b"[" * (DEEPEST + 1) + b"]" * (DEEPEST + 1),
        b"[" * 200_000,
        b'{"a":' * 200_000,
        b'[{"a":' * 100_000,
        b'["\\"", ' + b"[" * 100_000,
    ],
)
def test_deep_nesting_is_refused_before_the_parser_recurses(raw: bytes) -> None:
    problem = refusal(raw)
    assert problem.allowed == f"at most {DEEPEST} levels"


def test_any_bytes_at_all_give_a_value_or_one_problem() -> None:
    seed = random.Random(8259)
    good = b'{"foot": "left_fore", "n": [1, 2.5, -3e2, true, null, "\\u00e9\\ud83d\\ude00"], "o": {"p": {}}}'
    read, refused = 0, []
    for _ in range(3000):
        raw = bytearray(good)
        for _ in range(seed.randint(1, 3)):
            spot = seed.randrange(len(raw))
            raw[spot : spot + seed.randint(0, 2)] = seed.choice(
                [b"", b'"', b"[", b"}", b"\\", b"\x00", b"\xff", b"1", b"e9", b",", b"NaN", b"\\ud800"]
            )
        try:
            value = loads(bytes(raw))
        except BadInput as error:
            refused.append(len(error.problems))
        else:
            json.dumps(value, ensure_ascii=False, allow_nan=False).encode()
            read += 1
    assert set(refused) == {1}
    # Both ways out were taken, so neither half of the test is idle.
    assert read > 100
    assert len(refused) > 1000
