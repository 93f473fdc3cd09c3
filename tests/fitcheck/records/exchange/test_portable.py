"""A record that was written as a line or a row is the same record when it is read, whatever stands in it."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fitcheck.errors import BadInput, Problem
from fitcheck.records import Draft, Record
from fitcheck.records.chain import sealed
from fitcheck.records.exchange import portable, spreadsheet
from fitcheck.records.exchange.portable import FIELDS, check_content, fields_of, record_of, text_of
from fitcheck.records.tables import LATER

# The tables of all characters are made at the first example, which can take its time.
slow_start = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

# Whatever a store can hold in a name: any character but control characters and halves of pairs.
NAMES = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=64)
FORMULAS = st.builds(lambda sign, rest: sign + rest, st.sampled_from("=+-@'\uff1d\uff0b\uff0d\uff20"), NAMES).map(
    lambda name: name[:64]
)
MAYBE = st.none() | NAMES | FORMULAS
CONTENTS = (
    st.binary(max_size=200)
    | st.dictionaries(st.text(), st.text() | st.floats() | st.none()).map(lambda value: json.dumps(value).encode())
    | st.text().map(lambda text: (" \r\n\t{" + text).encode(errors="replace"))
)


def kept(draft: Draft, number: int = 1) -> Record:
    return Record(**sealed(draft, number, "sha256:" + "0" * 64), erased=False)


@st.composite
def records(draw: st.DrawFn) -> Record:
    names = (
        "person",
        "assessor",
        "horse",
        "foot",
        "visit",
        "stage",
        "decision",
        "fitted",
        "external_system",
        "external_id",
        "about",
    )
    draft = Draft(
        kind=draw(st.sampled_from(["assessment", "override"])),
        received=draw(CONTENTS),
        answer=draw(CONTENTS),
        id=draw(NAMES | FORMULAS),
        created="2026-03-04T10:00:00.000Z",
        rulebook_version=draw(NAMES | FORMULAS),
        rulebook_digest="sha256:" + "b" * 64,
        source=draw(st.none() | st.just("sha256:" + "c" * 64)),
        **{name: draw(MAYBE) for name in names},
    )
    return kept(draft, draw(st.integers(1, 2**53 - 1)))


@slow_start
@given(st.lists(records(), max_size=3))
def test_whatever_was_written_as_lines_is_read_the_same(written: list[Record]) -> None:
    lines = b"".join(portable.line_of(record) for record in written)
    assert lines.count(b"\n") == len(written)
    read = [record_of(portable.object_in(line)) for line in portable.raw_lines(io.BytesIO(lines))]
    assert read == written


@slow_start
@given(st.lists(records(), max_size=3))
def test_whatever_was_written_as_rows_is_read_the_same(written: list[Record]) -> None:
    table = spreadsheet.HEADING + b"".join(spreadsheet.row_of(record) for record in written)
    rows = list(spreadsheet.rows_in(io.BytesIO(table)))
    assert [record_of(spreadsheet.fields_in(cells(row))) for row in rows] == written


def cells(row: spreadsheet.Row) -> Any:
    assert not isinstance(row.cells, Problem)
    return row.cells


@slow_start
@given(records())
def test_no_cell_begins_as_a_formula_does(record: Record) -> None:
    """OWASP, "CSV Injection": a cell must not begin with = + - @, tab or carriage return."""
    table = spreadsheet.HEADING + spreadsheet.row_of(record)
    _, row = csv.reader(io.StringIO(table.decode(), newline=""))
    assert not [cell for cell in row if cell[:1] in {*"=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"} - {""}]


BLANKS = (" ", "\u00a0", "\u200b", "\ufeff", "\u3000", "\u2060", "\u00ad", "\x00", "\x0b", " \ufeff \u200b")


@pytest.mark.parametrize("blank", BLANKS)
@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\u2212"])
def test_a_formula_behind_what_a_spreadsheet_takes_away_is_guarded_too(blank: str, sign: str) -> None:
    text = f"{blank}{sign}HYPERLINK(A1)"
    assert spreadsheet.safe_cell(text) == f"'{text}"
    assert spreadsheet.plain_cell(f"'{text}") == text


@pytest.mark.parametrize("text", ["H-017", " H=1", "\u200bH", "", " ", "\ufeff"])
def test_what_is_no_formula_stays_as_it_is(text: str) -> None:
    assert spreadsheet.safe_cell(text) == text == spreadsheet.plain_cell(text)


@slow_start
@given(st.text() | st.builds("{}{}{}".format, st.sampled_from(("'", *BLANKS)), st.sampled_from("=+-@'"), st.text()))
def test_the_apostrophe_comes_off_again(text: str) -> None:
    assert spreadsheet.plain_cell(spreadsheet.safe_cell(text)) == text


@pytest.mark.parametrize("content", [b"\xff{", b"{\xff}", b"[1]", b'"text"', b"\xef\xbb\xbf{}"])
def test_what_is_no_json_object_in_utf_8_goes_as_base64(content: bytes) -> None:
    assert text_of(content) is None


def test_an_erased_record_is_written_and_read_as_one() -> None:
    cleared: dict[str, Any] = dict.fromkeys(
        ("person", "assessor", "horse", "foot", "visit", "stage", "decision", "fitted", "salt")
    )
    erased = replace(
        kept(base()),
        **cleared,
        received=b"",
        answer=b"",
        erased=True,
    )
    assert record_of(fields_of(erased)) == erased
    (row,) = spreadsheet.rows_in(io.BytesIO(spreadsheet.HEADING + spreadsheet.row_of(erased)))
    assert record_of(spreadsheet.fields_in(cells(row))) == erased


FITTING = {
    "foot": "left_fore",
    "stage": "nailed",
    "horse": {"ueln": "276000000000001"},
    "person": {"id": "A-3"},
    "assessor": {"id": "S-1"},
    "visit": "V-1",
    "observations": {"history": {"fitted": "2026-03-04"}},
}
ANSWER = {
    "id": "one",
    "created": "2026-03-04T10:00:00.000Z",
    "decision": "release",
    "rulebook": {"version": "1.2.0", "digest": "sha256:" + "b" * 64},
}


def base(**changes: Any) -> Draft:
    draft = Draft(
        kind="assessment",
        received=json.dumps(FITTING).encode(),
        answer=json.dumps(ANSWER).encode(),
        id="one",
        created="2026-03-04T10:00:00.000Z",
        person="A-3",
        assessor="S-1",
        horse="276000000000001",
        foot="left_fore",
        visit="V-1",
        stage="nailed",
        decision="release",
        fitted="2026-03-04",
        rulebook_version="1.2.0",
        rulebook_digest="sha256:" + "b" * 64,
    )
    return replace(draft, **changes)


def test_a_record_whose_columns_say_what_its_content_says_is_taken() -> None:
    check_content(kept(base()))


@pytest.mark.parametrize(
    "change",
    [
        {"id": "two"},
        {"created": "2026-03-04T10:00:01.000Z"},
        {"person": "A-4"},
        {"assessor": None},
        {"horse": "H-1"},
        {"foot": "right_fore"},
        {"visit": None},
        {"stage": "finished"},
        {"decision": "put_right"},
        {"fitted": "2026-03-05"},
        {"external_system": "practice"},
        {"external_id": "F-77"},
        {"rulebook_version": "1.1.0"},
        {"rulebook_digest": "sha256:" + "c" * 64},
    ],
)
def test_a_column_that_says_something_else_than_the_content_is_named(change: dict[str, Any]) -> None:
    """With digests reckoned anew, so that only this check can tell."""
    (name,) = change
    with pytest.raises(BadInput) as caught:
        check_content(kept(base(**change)))
    (problem,) = caught.value.problems
    assert problem.field == name
    assert problem.value == change[name]


@pytest.mark.parametrize("name", [*FIELDS, "received", "answer"])
def test_a_field_that_was_changed_or_taken_out_is_told(name: str) -> None:
    fields = fields_of(kept(base(external_system="practice", external_id="F-77")))
    other: dict[str, Any] = {
        "number": 2,
        "kind": "override",
        "created": "2026-03-04T10:00:02.000Z",
        "salt": "0" * 32,
        "erased": True,
        "about": "zero",
        "source": "sha256:" + "d" * 64,
    }
    digests = dict.fromkeys(("rulebook_digest", "content_digest", "previous", "digest"), "sha256:" + "1" * 64)
    changed = fields | {name: (other | digests).get(name, "{}")}
    assert changed != fields
    with pytest.raises(BadInput) as caught:
        record_of(changed)
    assert caught.value.problems[0].field in {name, "content_digest", "digest", "person"}
    with pytest.raises(BadInput) as caught:
        record_of({key: value for key, value in fields.items() if key != name})
    # What came later may be missing, and is then nothing: the digest tells that something was there.
    assert caught.value.problems[0].field == ("content_digest" if name in LATER else name)


def test_what_an_older_release_wrote_has_no_field_that_came_later() -> None:
    record = kept(base())
    fields = {key: value for key, value in fields_of(record).items() if key not in LATER}
    assert record_of(fields) == record
    table = spreadsheet.HEADING + spreadsheet.row_of(record)
    head, row = csv.reader(io.StringIO(table.decode(), newline=""))
    older = [number for number, name in enumerate(head) if name not in LATER]
    out = io.StringIO(newline="")
    csv.writer(out).writerows([[cells_of[number] for number in older] for cells_of in (head, row)])
    [read] = spreadsheet.rows_in(io.BytesIO(out.getvalue().encode()))
    assert record_of(spreadsheet.fields_in(cells(read))) == record


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("number", 0),
        ("number", "1"),
        ("number", True),
        ("number", 2**53),
        ("kind", "note"),
        ("created", "2026-02-30T10:00:00.000Z"),
        ("created", "2026-03-04"),
        ("salt", "zz"),
        ("digest", "sha256:1"),
        ("source", "abc"),
        ("erased", "no"),
        ("person", 3),
        ("person", ""),
        ("person", "a\nb"),
        ("person", "\ud800"),
        ("visit", "v" * 201),
        ("received", 3),
        ("received", "\ud800"),
        ("received_base64", "é"),
        ("colour", "bay"),
        ("id", None),
    ],
)
def test_a_field_that_is_not_of_its_form_is_named(name: str, value: Any) -> None:
    with pytest.raises(BadInput) as caught:
        record_of(fields_of(kept(base())) | {name: value})
    (problem,) = caught.value.problems
    assert problem.field in {name, name.removesuffix("_base64")}
    assert problem.allowed


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (b"", "has no column number"),
        (b"number;id;kind\n", "has no column number"),
        (spreadsheet.HEADING.replace(b"erased", b"gone"), "has no column erased"),
        (spreadsheet.HEADING.replace(b"\r\n", b",digest\r\n"), "stands twice: digest"),
        (spreadsheet.HEADING.replace(b"\r\n", b",colour\r\n"), "is not known: colour"),
    ],
)
def test_a_table_without_the_columns_is_refused_as_a_whole(table: bytes, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        list(spreadsheet.rows_in(io.BytesIO(table)))


def test_a_spreadsheets_byte_order_mark_and_words_for_yes_and_no_are_understood() -> None:
    record = kept(base())
    table = b"\xef\xbb\xbf" + spreadsheet.HEADING + spreadsheet.row_of(record).replace(b",false,", b",FALSE,")
    (row,) = spreadsheet.rows_in(io.BytesIO(table))
    assert record_of(spreadsheet.fields_in(cells(row))) == record


def test_rows_are_numbered_by_the_line_on_which_they_begin() -> None:
    pretty = kept(base(received=json.dumps(FITTING, indent=1).encode()))
    table = spreadsheet.HEADING + spreadsheet.row_of(pretty) + b"too,few\r\n" + spreadsheet.row_of(kept(base()))
    first, second, third = spreadsheet.rows_in(io.BytesIO(table))
    lines = len(json.dumps(FITTING, indent=1).splitlines())
    assert (first.number, second.number, third.number) == (2, 2 + lines, 3 + lines)
    assert isinstance(second.cells, Problem)
    assert "2 cells" in second.cells.detail


def test_a_line_that_is_too_long_is_not_kept_in_memory_and_spoils_only_itself() -> None:
    lines = list(portable.raw_lines(io.BytesIO(b'{"a":1}\n\n' + b"x" * 50 + b'\r\n{"b":2}'), longest=20))
    assert lines == [(1, b'{"a":1}'), (3, None), (4, b'{"b":2}')]
    with pytest.raises(BadInput, match="too long"):
        portable.object_in(lines[1])
