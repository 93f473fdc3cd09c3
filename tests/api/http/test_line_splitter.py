"""Lines come out the same however the bytes are cut."""

from __future__ import annotations

import random

import pytest

from api.http.line_splitter import Line, LineSplitter


def split(chunks: list[bytes], longest: int = 10) -> list[Line]:
    splitter = LineSplitter(longest)
    lines = [line for chunk in chunks for line in splitter.push(chunk)]
    return [*lines, *splitter.end()]


@pytest.mark.parametrize(
    ("raw", "lines"),
    [
        (b"", []),
        (b"\n\r\n \t\n", []),
        (b"a\nb", [Line(1, b"a"), Line(2, b"b")]),
        (b"a\r\nb\r\n", [Line(1, b"a"), Line(2, b"b")]),
        (b"\n\na\n\nb\n", [Line(3, b"a"), Line(5, b"b")]),
        (b"a\rb\n", [Line(1, b"a\rb")]),
        (b"a\r", [Line(1, b"a")]),
        (b"0123456789\r\n", [Line(1, b"0123456789")]),
        (b"0123456789x\r\nb", [Line(1, None), Line(2, b"b")]),
        (b"0123456789x", [Line(1, None)]),
        (b"x" * 1000 + b"\n\nb", [Line(1, None), Line(3, b"b")]),
        (b" " * 11 + b"\nb", [Line(1, None), Line(2, b"b")]),
        ("é\u2028é\n".encode(), [Line(1, "é\u2028é".encode())]),
    ],
)
def test_lines_end_at_line_feeds_alone_and_blank_ones_only_count(raw: bytes, lines: list[Line]) -> None:
    assert split([raw]) == lines
    # Byte by byte, with empty pieces between.
    assert split([piece for byte in raw for piece in (bytes([byte]), b"")]) == lines


def test_any_cutting_gives_the_same_lines() -> None:
    seed = random.Random(10)
    for _ in range(300):
        raw = bytes(seed.choice(b"ab\n\n\r ") for _ in range(seed.randint(0, 80)))
        cuts = sorted(seed.randint(0, len(raw)) for _ in range(seed.randint(0, 10)))
        chunks = [raw[start:end] for start, end in zip([0, *cuts], [*cuts, len(raw)], strict=True)]
        assert split(chunks, 6) == split([raw], 6)


def test_a_line_without_end_is_not_kept() -> None:
    splitter = LineSplitter(longest=100)
    for _ in range(1000):
        assert list(splitter.push(b"x" * 1000)) == []
        assert len(splitter._buffered) <= 101
    assert list(splitter.end()) == [Line(1, None)]


def test_blank_lines_are_passed_over_all_at_once() -> None:
    splitter = LineSplitter(longest=1 << 20)
    blank = b"\n \r\n\t\n" * 10_000
    passed: list[int] = []
    keep = splitter._keep

    def counted(piece: bytes) -> None:
        passed.append(len(piece))
        keep(piece)

    splitter._keep = counted  # type: ignore[method-assign]  # counted
    for _ in range(10):
        assert list(splitter.push(blank)) == []
    assert list(splitter.push(b"a\n")) == [Line(300_001, b"a")]
    assert len(passed) < 30
