"""The ledger sees what it is there to see: records that are lost, doubled, altered or never sent."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from fitcheck.records import Draft, Store, open_store
from tests.endurance.ledger import Ledger, Sent
from tests.endurance.report import Report


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(f"sqlite:///{tmp_path / 'records.sqlite3'}") as opened:
        yield opened


@pytest.fixture
def ledger() -> Ledger:
    return Ledger(Report("a trial"))


def answered(sent: Sent) -> Draft:
    """What a service keeps of ``sent``."""
    id_ = str(uuid.uuid4())
    return Draft(
        kind="assessment",
        received=sent.body,
        answer=json.dumps({"id": id_}).encode(),
        id=id_,
        created="2026-03-04T10:00:00.000Z",
        rulebook_version="1",
        rulebook_digest="sha256:",
    )


def faults(ledger: Ledger, store: Store) -> str:
    ledger.check(store)
    ledger.prove(store)
    return " ".join(ledger.report.faults)


def test_what_was_kept_and_answered_is_no_fault_nor_is_what_was_kept_and_not_answered(
    ledger: Ledger, store: Store
) -> None:
    for number in range(4):
        draft = answered(sent := ledger.new(keyed=True))
        store.keep(draft)
        if number % 2:
            ledger.acknowledge(sent, draft.answer)
        else:
            ledger.doubt(sent)
    assert faults(ledger, store) == ""
    ledger.sums()
    assert ledger.report.figures["kept without the client knowing"] == 2
    assert all(map(ledger.is_kept, ledger.take_unanswered()))


def test_what_was_answered_and_not_kept_is_lost(ledger: Ledger, store: Store) -> None:
    draft = answered(sent := ledger.new(keyed=True))
    ledger.acknowledge(sent, draft.answer)
    assert "not there as answered" in faults(ledger, store)


def test_what_was_kept_otherwise_than_answered_is_told(ledger: Ledger, store: Store) -> None:
    draft = answered(sent := ledger.new(keyed=True))
    store.keep(draft)
    ledger.acknowledge(sent, draft.answer[:-1] + b" }")
    assert "not there as answered" in faults(ledger, store)


def test_what_was_kept_twice_is_told_and_so_are_two_answers_to_one_request(ledger: Ledger, store: Store) -> None:
    sent = ledger.new(keyed=True)
    for draft in (answered(sent), answered(sent)):
        store.keep(draft)
        ledger.acknowledge(sent, draft.answer)
    told = faults(ledger, store)
    assert "is there before" in told
    assert "answered with two assessments" in told


def test_what_nobody_sent_is_told(ledger: Ledger, store: Store) -> None:
    store.keep(answered(Sent(b"{}", "")))
    assert "was never sent" in faults(ledger, store)


def test_a_store_that_went_back_is_told(ledger: Ledger, store: Store, tmp_path: Path) -> None:
    sent = ledger.new(keyed=True)
    store.keep(answered(sent))
    assert faults(ledger, store) == ""
    with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as other:
        assert "noted" in faults(ledger, other)
