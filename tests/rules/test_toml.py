"""TOML is read as the standard library reads it, and what is wrong with it is told in its words."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.toml import read_toml
from tests.support.paths import ROOT

_FILES = sorted(path for room in ("rules", "fitcheck") for path in (ROOT / room).rglob("*.toml"))
_TEXT = (ROOT / "rules" / "book" / "book.toml").read_text(encoding="utf-8")
_MARKS = st.sampled_from(
    ["", "\n", '"', "'", "[", "]", "{", "}", "=", ",", ".", "#", "0", "-", "e", "_", "a", "\\", '"""']
)


def _in_order(value: Any) -> Any:
    """Tables with their keys in order, and each value with its kind: 1 is not 1.0."""
    if isinstance(value, dict):
        return [(key, _in_order(part)) for key, part in value.items()]
    if isinstance(value, list):
        return [_in_order(part) for part in value]
    return type(value).__name__, repr(value)


def _read(read: Callable[[str], dict[str, Any]], text: str) -> tuple[Any, str]:
    """The tables of ``text`` in order, and what is wrong with it."""
    try:
        return _in_order(read(text)), ""
    except tomllib.TOMLDecodeError as error:
        return None, str(error)


def test_every_file_of_the_tool_is_read_as_the_standard_library_reads_it() -> None:
    assert len(_FILES) > 50
    for path in _FILES:
        text = path.read_text(encoding="utf-8")
        assert _in_order(read_toml(text)) == _in_order(tomllib.loads(text)), path


@given(st.integers(0, len(_TEXT)), st.integers(0, 3), _MARKS)
def test_a_spoilt_file_is_read_or_refused_in_the_same_words(place: int, cut: int, put_in: str) -> None:
    text = _TEXT[:place] + put_in + _TEXT[place + cut :]
    expected, told = _read(tomllib.loads, text)
    found, problem = _read(read_toml, text)
    if told and not problem:
        # TOML 1.1, which this Python's library does not know, lets more stand in inline tables and texts.
        assert told.startswith(("Unescaped", "Invalid initial character for a key part", "Invalid value"))
    else:
        assert (found, problem) == (expected, told)


@pytest.mark.parametrize("text", ["a = 1e400", "a = 9223372036854775808", "a = nan", "a = [1, 2\n, 3,]"])
def test_what_only_one_of_the_two_reads_is_read(text: str) -> None:
    assert _in_order(read_toml(text)) == _in_order(tomllib.loads(text))


def test_a_key_that_stands_twice_is_told_with_its_line() -> None:
    with pytest.raises(tomllib.TOMLDecodeError, match=r"line 3"):
        read_toml("[a]\nb = 1\nb = 2\n")
