"""Records by the day of the fitting, by a part of a horse's name, and marks by hand, on both databases."""

from __future__ import annotations

from typing import Any

import pytest

from fitcheck.records import RecordFilter, Store
from tests.support.raters import by_hand, judged


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({"first_day": "2026-03-02", "last_day": "2026-03-02"}, ["fitted"]),
        ({"first_day": "2026-03-03"}, ["not-told"]),
        ({"last_day": "2026-03-04"}, ["not-told", "fitted"]),
        ({"last_day": "2026-03-03"}, ["fitted"]),
        ({"part_of_horse": "MARE"}, ["not-told", "fitted"]),
        ({"part_of_horse": "dun m"}, ["fitted"]),
        ({"part_of_horse": "d%e"}, []),
        ({"part_of_horse": "d_n"}, []),
    ],
)
def test_a_filter_finds_just_what_it_is_for(store: Store, wanted: dict[str, Any], found: list[str]) -> None:
    store.keep(judged("good", "fitted", horse="Dun mare", fitted="2026-03-02"))
    store.keep(judged("good", "not-told", horse="Bay mare", visit="w"))
    store.keep(
        judged("good", "nameless", horse=None, visit=None, created="2026-03-09T10:00:00.000Z", fitted="2026-03-09")
    )
    filtered = store.records(RecordFilter(**{"last_day": "2026-03-08", **wanted}), limit=5)
    assert [each.id for each in filtered] == found


def test_marks_by_hand_are_found_by_what_they_are_about(store: Store) -> None:
    store.keep_many([judged("good", "a"), judged("good", "b", visit="w")])
    made = [by_hand(store, id_, "S-1").id for id_ in ("b", "a", "b")]
    assert [each.id for each in store.hand_marks_about(["a", "b"])] == made
    assert [each.id for each in store.hand_marks_about(["a"])] == made[1:2]
    assert store.overrides_about(["a", "b"]) == []
