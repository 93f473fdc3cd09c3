"""Parts of very many fittings: the same answers however the work is cut, and refused by another rulebook."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.bulk import BookName, LinePart, OtherRulebook, assess_part, in_order, line_parts, record_parts
from fitcheck.fitting.models import Fitting
from fitcheck.records import RecordFilter
from rules import shipped_rulebook
from tests.support.paths import ROOT
from tests.support.random_fittings import random_fittings

CREATED = "2026-03-04T10:00:00.000Z"
BOOK = BookName("shipped", shipped_rulebook().digest)


def lines_of_fittings(count: int) -> list[bytes]:
    return [json.dumps(each).encode() for each in random_fittings(20, count)]


def parts_of(lines: list[bytes], sizes: list[int]) -> list[LinePart]:
    found, first = [], 1
    for size in sizes:
        found.append(LinePart(first, tuple(lines[first - 1 : first - 1 + size]), BOOK, CREATED))
        first += size
    return found


def test_the_same_lines_have_the_same_answers_however_they_are_cut() -> None:
    lines = lines_of_fittings(60)
    whole = [line for answer in in_order(assess_part, parts_of(lines, [60])) for line in answer]
    cut = [line for answer in in_order(assess_part, parts_of(lines, [7, 1, 30, 22])) for line in answer]
    assert whole == cut
    assert len({json.loads(line)["assessment"]["id"] for line in whole}) == 60


def test_an_answer_is_the_assessment_but_for_its_id_and_time() -> None:
    lines = lines_of_fittings(5)
    [answers] = in_order(assess_part, parts_of(lines, [5]))
    for raw, answer in zip(lines, answers, strict=True):
        expected = assess(Fitting.model_validate(json.loads(raw)))
        found = json.loads(answer)["assessment"]
        assert found["created"] == CREATED
        assert found | {"id": expected.id, "created": expected.created} == json.loads(expected.model_dump_json())


def test_bad_lines_and_blank_ones_spoil_only_themselves() -> None:
    good = lines_of_fittings(1)[0]
    [answers] = in_order(assess_part, parts_of([good, b"{", b"\n", b'{"foot": "left_ear"}', good], [5]))
    told = [json.loads(answer) for answer in answers]
    assert [each["line"] for each in told] == [1, 2, 3, 4, 5]
    assert [min(each) for each in told] == ["assessment", "line", "line", "line", "assessment"]
    assert told[1]["problem"]["type"] == "bad-input"
    assert {error["field"] for error in told[3]["problem"]["errors"]} >= {"foot", "stage"}


def test_parts_leave_out_what_is_answered_already() -> None:
    lines = [b"%d" % number for number in range(1, 451)]
    whole = [part.first for part in line_parts(lines, BOOK, CREATED)]
    assert whole == [1, 201, 401]
    left = list(line_parts(lines, BOOK, CREATED, done=250))
    assert [(part.first, part.lines[0], len(part.lines)) for part in left] == [(251, b"251", 150), (401, b"401", 50)]


def test_ranges_of_records_meet_and_do_not_overlap() -> None:
    parts = list(record_parts(1234, "sqlite:///x", RecordFilter(), BOOK, after=100))
    assert (parts[0].after, parts[-1].last) == (100, 1234)
    assert [part.last for part in parts[:-1]] == [part.after for part in parts[1:]]


def test_another_rulebook_under_the_name_is_refused() -> None:
    part = LinePart(1, (b"{}",), BookName("1.3.0", shipped_rulebook().digest), CREATED)
    with pytest.raises(OtherRulebook, match="Put the same rulebook"):
        assess_part(part)


def test_parts_can_be_sent() -> None:
    part = parts_of(lines_of_fittings(2), [2])[0]
    sent = pickle.loads(pickle.dumps(part))  # noqa: S301  (our own)
    assert assess_part(sent) == assess_part(part)


def test_lines_go_through_a_pipe_and_come_out_as_lines_and_nothing_else() -> None:
    sent = [*lines_of_fittings(5), b"{", b""]
    command = [sys.executable, "-m", "fitcheck", "assess", "--lines", "-"]
    done = subprocess.run(command, input=b"\n".join(sent) + b"\n", capture_output=True, cwd=ROOT, check=False)
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert (done.returncode, done.stderr) == (65, b"")
    assert [each["line"] for each in answers] == list(range(1, 8))
    assert [next(iter(each.keys() - {"line"}), "blank") for each in answers] == ["assessment"] * 5 + [
        "problem",
        "blank",
    ]
