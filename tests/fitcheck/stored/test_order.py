"""Clocks that go back, and hosts whose clocks differ: what was kept last counts, and what cannot be told is said."""

from __future__ import annotations

import io
import json
import random
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Draft, RecordFilter, Store, draft_of, open_store
from fitcheck.records.exchange.exporting import Format, chunks
from fitcheck.records.exchange.importing import Importer
from fitcheck.stored import report_of_visit, stored_visit
from fitcheck.vocabulary import utc
from rules import shipped_rulebook
from tests.support.counts import tries

BOOK = shipped_rulebook()
NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
Make = Callable[..., Draft]


@pytest.fixture
def kept(good: dict[str, Any]) -> Make:
    """A draft of a foot at a visit: good, or with a flinch and blood at a nail, at a time that some clock showed."""
    observed = good["observations"]
    bad = {**observed, "nails": [{**observed["nails"][0], "reaction": "flinch", "blood": True}, *observed["nails"][1:]]}

    def make(decision: str, at: datetime, *, foot: str = "left_fore", about: str | None = None) -> Draft:
        document = {**good, "foot": foot, "observations": observed if decision == "release" else bad}
        fitting = parse_fitting(document)
        assessment = assess(fitting).model_copy(update={"created": utc(at)})
        assert assessment.decision == decision
        return draft_of(json.dumps(document).encode(), fitting, assessment, corrects=about)

    return make


def seen_of(store: Store) -> Any:
    visit = stored_visit(store, "2026-03-04-H-101", BOOK)
    assert visit is not None
    return visit.visit


def moved(source: Store, target: Store, form: Format = "ndjson") -> None:
    """Take everything of one store into another."""
    lines = b"".join(chunks(source.each_record(RecordFilter()), form))
    assert list(Importer(target, shipped_rulebook).take(io.BytesIO(lines), form)) == []


def test_an_older_release_never_stands_over_a_flinch_with_blood_though_the_clock_went_back(
    store: Store, kept: Make
) -> None:
    store.keep(kept("release", NOON))
    last = store.keep(kept("stop_and_refer", NOON - timedelta(hours=3))).record
    visit = seen_of(store)
    assert (visit.decision, visit.feet[0].assessment, visit.feet[0].in_conflict) == ("stop_and_refer", last.id, ())


@pytest.mark.parametrize("first", ["release", "stop_and_refer"])
def test_between_two_stores_the_gravest_counts_and_the_conflict_is_told(tmp_path: Path, kept: Make, first: str) -> None:
    other = "stop_and_refer" if first == "release" else "release"
    with (
        open_store(f"sqlite:///{tmp_path / 'yard'}") as yard,
        open_store(f"sqlite:///{tmp_path / 'tablet'}") as tablet,
    ):
        yard.keep(kept(first, NOON))
        tablet.keep(kept(other, NOON + timedelta(hours=1)))
        moved(tablet, yard)
        visit = seen_of(yard)
        [seen] = visit.feet
        assert (visit.decision, seen.decision, len(seen.in_conflict)) == ("stop_and_refer", "stop_and_refer", 1)
        whole = stored_visit(yard, "2026-03-04-H-101", BOOK)
        assert whole is not None
        assert seen.in_conflict[0] in report_of_visit(whole, BOOK, "en")
        assert "cannot be told" in report_of_visit(whole, BOOK, "en")
        # Corrected, there is nothing left to tell.
        last = yard.keep(kept("release", NOON, about=seen.assessment)).record
        yard.keep(kept("release", NOON, about=seen.in_conflict[0]))
        [seen] = seen_of(yard).feet
        assert (seen.decision, seen.in_conflict, last.id in seen.earlier) == ("release", (), True)


@pytest.mark.parametrize("form", ["ndjson", "csv"])
def test_records_of_one_other_store_stay_in_its_order_also_over_several_imports(
    tmp_path: Path, kept: Make, form: Format
) -> None:
    with (
        open_store(f"sqlite:///{tmp_path / 'yard'}") as yard,
        open_store(f"sqlite:///{tmp_path / 'tablet'}") as tablet,
    ):
        tablet.keep(kept("stop_and_refer", NOON))
        moved(tablet, yard, form)
        tablet.keep(kept("release", NOON - timedelta(days=1)))
        moved(tablet, yard, form)
        [seen] = seen_of(yard).feet
        assert (seen.decision, seen.in_conflict) == ("release", ())


def test_what_a_store_had_imported_itself_is_of_no_known_order_in_the_next(tmp_path: Path, kept: Make) -> None:
    names = ("tablet", "yard", "school")
    stores = [open_store(f"sqlite:///{tmp_path / name}") for name in names]
    tablet, yard, school = stores
    tablet.keep(kept("stop_and_refer", NOON))
    moved(tablet, yard)
    yard.keep(kept("release", NOON + timedelta(hours=1)))
    assert seen_of(yard).decision == "stop_and_refer"
    moved(yard, school)
    assert seen_of(school).decision == "stop_and_refer"
    assert seen_of(school).feet[0].in_conflict
    for store in stores:
        store.close()


def test_two_tablets_with_clocks_of_their_own_are_two_sources(tmp_path: Path, kept: Make) -> None:
    stores = [open_store(f"sqlite:///{tmp_path / name}") for name in ("one", "two", "yard")]
    one, two, yard = stores
    one.keep(kept("stop_and_refer", NOON))
    two.keep(kept("release", NOON + timedelta(hours=1)))
    moved(one, yard)
    moved(two, yard)
    visit = seen_of(yard)
    assert visit.decision == "stop_and_refer"
    assert visit.feet[0].in_conflict
    for store in stores:
        store.close()


@pytest.fixture
def hosts(url: str) -> Iterator[tuple[Store, Store]]:
    """Two hosts that share one store."""
    with closing(open_store(url)) as one, closing(open_store(url)) as two:
        yield one, two


@pytest.mark.long
def test_whatever_the_clocks_of_two_hosts_do_each_foot_counts_as_it_was_kept_last(
    hosts: tuple[Store, Store], kept: Make
) -> None:
    """Each host's clock runs, is put back or forth by up to two days, and each keeps by its own."""
    chance = random.Random(20260304)
    clocks = [NOON, NOON - timedelta(minutes=7)]
    last: dict[str, str] = {}
    for _ in range(tries(10, full=400)):
        host = chance.randrange(2)
        step = chance.choice((timedelta(seconds=30), -timedelta(hours=1), timedelta(days=2), -timedelta(days=2)))
        clocks[host] += step
        foot, decision = chance.choice(("left_fore", "right_hind")), chance.choice(("release", "stop_and_refer"))
        # What a visit holds is bounded: what came before is corrected by what comes.
        about = last.get(foot) if chance.random() < 0.9 else None
        last[foot] = hosts[host].keep(kept(decision, clocks[host], foot=foot, about=about)).record.id
        for reader in hosts:
            visit = seen_of(reader)
            assert {seen.foot: seen.assessment for seen in visit.feet} == last
            decisions = {seen.foot: seen.decision for seen in visit.feet}
            assert decisions[foot] == decision
            assert visit.decision == ("stop_and_refer" if "stop_and_refer" in decisions.values() else "release")
