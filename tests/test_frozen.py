"""What the tool answers is what it answered when it was frozen: short groups, and one block of fittings of each kind.

All of it: ``python -m tests.frozen check``. Where a change is meant: ``python -m tests.frozen write``.
"""

from __future__ import annotations

import pytest

from api.application import create_app
from tests.frozen.fittings import SOURCES, block
from tests.frozen.groups import GROUPS, answers_of
from tests.frozen.ledger import differences, digest_of, read_ledger
from tests.frozen.requests import routes_asked
from tests.support.counts import tries


@pytest.mark.parametrize("group", [group for group in GROUPS if group != "fittings"])
def test_answers_are_those_that_were_frozen(group: str) -> None:
    found = {key: digest_of(text) for key, text in answers_of(group)}
    assert differences(read_ledger(group), found) == []


@pytest.mark.parametrize("source", SOURCES)
def test_part_of_the_fittings_is_answered_as_when_it_was_frozen(source: str) -> None:
    frozen = read_ledger("fittings")
    for number in range(0, SOURCES[source], SOURCES[source] // tries(1, full=SOURCES[source])):
        assert digest_of(block(source, number)) == frozen[f"{source}.{number:02}"], f"{source}.{number:02}"


def test_every_route_is_among_the_frozen_requests() -> None:
    app = create_app()
    assert {route.path for route in app.routes if hasattr(route, "path")} - routes_asked(app) == set()


def test_both_databases_give_the_same() -> None:
    frozen = read_ledger("stores")
    by_database = {
        database: {key.partition(" ")[2]: digest for key, digest in frozen.items() if key.startswith(database)}
        for database in ("sqlite", "postgresql")
    }
    assert by_database["sqlite"] == by_database["postgresql"]
    assert by_database["sqlite"]
