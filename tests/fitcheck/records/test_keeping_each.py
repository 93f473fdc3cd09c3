"""Many requests in one transaction: what stands against one of them is that one's alone."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from fitcheck.records import AlreadyCorrected, Draft, Idempotency, KeyReused, Store, StoredRecord, UnknownRecord, verify

Make = Callable[..., Draft]


def key(name: str, body: str = "1") -> Idempotency:
    return Idempotency(name, "", f"sha256:{body}")


def test_what_is_refused_leaves_the_others_to_be_kept(store: Store, draft: Make) -> None:
    old = draft()
    store.keep(old, key("earlier"))
    good, correction, last = draft(), draft(about=old.id), draft()
    requests = [
        (good, None),
        (draft(), key("earlier")),
        (draft(), key("earlier", "2")),
        (correction, key("new")),
        (draft(about=old.id), None),
        (draft(about="nowhere"), None),
        (draft(kind="override", about="nowhere"), None),
        (draft(), key("new")),
        (draft(), key("new", "2")),
        (last, None),
    ]
    outcomes = store.keep_each(requests)
    told = [(each.record.id, each.fresh) if isinstance(each, StoredRecord) else type(each) for each in outcomes]
    assert told == [
        (good.id, True),
        (old.id, False),
        KeyReused,
        (correction.id, True),
        AlreadyCorrected,
        UnknownRecord,
        UnknownRecord,
        (correction.id, False),
        KeyReused,
        (last.id, True),
    ]
    assert [record.id for record in store.following(0, 9)] == [old.id, good.id, correction.id, last.id]
    kept = store.answered(key("new"))
    assert kept is not None
    assert kept.id == correction.id
    assert list(verify(store)) == []


def test_a_line_after_one_of_its_key_that_was_refused_is_refused_like_it(store: Store, draft: Make) -> None:
    first, again = store.keep_each([(draft(about="nowhere"), key("k")), (draft(), key("k"))])
    assert isinstance(first, UnknownRecord)
    assert again is first
    assert store.keep(draft(), key("k")).fresh


def test_the_same_lines_from_many_threads_are_kept_once(store: Store, draft: Make) -> None:
    requests = [(draft(), key(f"line-{number}")) for number in range(10)]
    with ThreadPoolExecutor(8) as threads:
        outcomes = list(threads.map(store.keep_each, itertools.repeat(requests, 8)))
    assert store.head().number == 10
    for line in zip(*outcomes, strict=True):
        kept = [each for each in line if isinstance(each, StoredRecord)]
        assert (len(kept), len({each.record.id for each in kept})) == (8, 1)
        assert [each.fresh for each in kept].count(True) == 1
