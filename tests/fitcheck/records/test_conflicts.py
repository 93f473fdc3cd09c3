"""What may not be kept beside what is kept: a second correction, and a second horse under one visit."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest

from fitcheck.records import (
    AlreadyCorrected,
    Draft,
    Idempotency,
    Store,
    StoredRecord,
    VisitOfAnotherHorse,
    open_store,
    verify,
)

Make = Callable[..., Draft]
_THREADS = 20


def test_what_was_corrected_is_corrected_by_its_correction_alone(store: Store, draft: Make) -> None:
    old = draft()
    store.keep(old)
    new = draft(about=old.id)
    store.keep(new)
    with pytest.raises(AlreadyCorrected) as refused:
        store.keep(draft(about=old.id))
    assert (refused.value.id, refused.value.by) == (old.id, new.id)
    assert new.id in str(refused.value)
    newest = draft(about=new.id)
    store.keep(newest)
    assert store.corrections_of([old.id, new.id]) == {old.id: [new.id], new.id: [newest.id]}


def test_of_two_corrections_in_one_group_neither_is_kept(store: Store, draft: Make) -> None:
    old = draft()
    store.keep(old)
    with pytest.raises(AlreadyCorrected):
        store.keep_many([draft(about=old.id), draft(about=old.id)])
    assert store.head().number == 1


def test_an_override_is_no_correction(store: Store, draft: Make) -> None:
    old = draft()
    store.keep(old)
    for _ in range(2):
        store.keep(draft(kind="override", about=old.id))
    store.keep(draft(about=old.id))
    assert store.head().number == 4


def test_an_erased_correction_leaves_what_it_corrected_to_be_corrected_anew(store: Store, draft: Make) -> None:
    old = draft(person="A-1", assessor=None)
    store.keep(old)
    store.keep(draft(person="A-2", assessor=None, about=old.id))
    store.erase("A-2", reason="asked for", created="2026-03-05T10:00:00.000Z")
    store.keep(draft(person="A-1", about=old.id))
    assert store.head().number == 4


def test_what_comes_from_another_store_is_taken_as_it_is(store: Store, draft: Make) -> None:
    old = draft()
    store.keep_many([old, draft(about=old.id), draft(about=old.id, source="sha256:" + "1" * 64)])
    assert len(store.corrections_of([old.id])[old.id]) == 2


def test_of_twenty_corrections_at_once_one_is_kept_and_each_other_is_told_of_it(store: Store, draft: Make) -> None:
    old = draft()
    store.keep(old)
    together = threading.Barrier(_THREADS)
    # Two stores at one address, as two server processes have them: no lock of this process holds between them.
    with open_store(store._engine.url.render_as_string(hide_password=False)) as other:

        def correct(number: int) -> str | AlreadyCorrected:
            each = draft(about=old.id)
            key = Idempotency(f"send-{number}", "", "sha256:1") if number % 3 == 0 else None
            together.wait()
            try:
                return (store, other)[number % 2].keep(each, key).record.id
            except AlreadyCorrected as error:
                return error

        with ThreadPoolExecutor(_THREADS) as threads:
            outcomes = list(threads.map(correct, range(_THREADS)))
    [kept] = [outcome for outcome in outcomes if isinstance(outcome, str)]
    refused = [outcome for outcome in outcomes if isinstance(outcome, AlreadyCorrected)]
    assert len(refused) == _THREADS - 1
    assert {error.by for error in refused} == {kept}
    assert store.corrections_of([old.id]) == {old.id: [kept]}
    assert list(verify(store)) == []


CHIP = {"transponder": "276020000000001"}
LIFE = {"ueln": "276014012345678"}


def of_horse(draft: Make, horse: dict[str, str] | None, **changes: str) -> Draft:
    name = None if horse is None else horse.get("id") or horse.get("ueln") or horse.get("transponder")
    return draft(received=json.dumps({"horse": horse}).encode(), horse=name, **changes)


@pytest.mark.parametrize(
    ("first", "second", "field"),
    [
        ({"id": "H-1"}, {"id": "H-2"}, "horse.id"),
        ({"id": "H-1"} | CHIP, {"id": "H-2"} | CHIP, "horse.id"),
        (CHIP, {"transponder": "276020000000002"}, "horse.transponder"),
        (LIFE | CHIP, {"ueln": "276014012345679"} | CHIP, "horse.ueln"),
        ({"id": "H-1"} | CHIP, {"transponder": "276020000000002"}, "horse.transponder"),
    ],
)
def test_a_visit_is_of_one_horse(
    store: Store, draft: Make, first: dict[str, str], second: dict[str, str], field: str
) -> None:
    kept = store.keep(of_horse(draft, first)).record
    for _ in range(2):
        with pytest.raises(VisitOfAnotherHorse) as refused:
            store.keep(of_horse(draft, second))
        assert (refused.value.visit, refused.value.id, refused.value.field) == (kept.visit, kept.id, field)
    store.keep(of_horse(draft, second, visit="another"))
    store.keep(of_horse(draft, first))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"id": "H-1"}, {"id": "H-1"} | CHIP),
        ({"id": "H-1"} | CHIP, CHIP),
        ({"id": "H-1"} | LIFE, LIFE | CHIP),
        # Nothing tells these two apart.
        ({"id": "H-1"}, CHIP),
        ({"id": "H-1"}, None),
        (None, {"id": "H-1"}),
    ],
)
def test_one_horse_may_go_by_several_names(
    store: Store, draft: Make, first: dict[str, str] | None, second: dict[str, str] | None
) -> None:
    store.keep(of_horse(draft, first))
    store.keep(of_horse(draft, second))
    assert store.head().number == 2


def test_what_was_corrected_or_erased_holds_no_visit(store: Store, draft: Make) -> None:
    wrong = store.keep(of_horse(draft, {"id": "H-1"}, person="A-1")).record
    store.keep(of_horse(draft, {"id": "H-1"}, person="A-1", visit="another", about=wrong.id))
    store.keep(of_horse(draft, {"id": "H-2"}, person="A-2"))
    store.erase("A-2", reason="asked for", created="2026-03-05T10:00:00.000Z")
    store.keep(of_horse(draft, {"id": "H-3"}))
    with pytest.raises(VisitOfAnotherHorse):
        store.keep(of_horse(draft, {"id": "H-2"}))


def test_a_correction_may_name_the_horse_otherwise_than_what_it_corrects(store: Store, draft: Make) -> None:
    wrong = store.keep(of_horse(draft, {"id": "H-1"})).record
    assert store.keep(of_horse(draft, {"id": "H-2"}, about=wrong.id)).fresh


def test_of_two_horses_that_come_at_once_one_has_the_visit(store: Store, draft: Make) -> None:
    outcomes = store.keep_each([(of_horse(draft, {"id": f"H-{number}"}), None) for number in (1, 2, 1)])
    assert [type(outcome) for outcome in outcomes] == [StoredRecord, VisitOfAnotherHorse, StoredRecord]
    with ThreadPoolExecutor(_THREADS) as threads:
        drafts = [of_horse(draft, {"id": f"H-{number}"}, visit="at-once") for number in range(_THREADS)]
        fresh = list(threads.map(lambda each: store.keep_each([(each, None)])[0], drafts))
    assert [type(outcome) for outcome in fresh].count(StoredRecord) == 1


def test_what_another_store_kept_under_one_visit_is_taken_as_it_is(store: Store, draft: Make) -> None:
    for number in range(2):
        store.keep(of_horse(draft, {"id": f"H-{number}"}, source="sha256:" + "1" * 64))
    assert store.head().number == 2
