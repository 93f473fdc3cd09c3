"""Keys as a server process knows them: remembered for a few seconds, and no longer."""

from __future__ import annotations

import asyncio
import threading

import pytest

from api.http.key_cache import REMEMBERED_S, KeyChecks
from fitcheck.records import StoreUnavailable
from fitcheck.records.keys import AccessKey, Token
from fitcheck.records.sessions import SessionToken


class StoredRecord:
    """A store with at most one key, which counts how often it is asked."""

    def __init__(self) -> None:
        self.token = Token.make()
        self.key: AccessKey | None = None
        self.asked = 0
        self.down = False
        self.threads: set[int] = set()

    def any_made(self) -> bool:
        self._ask()
        return self.key is not None

    def check(self, token: Token | SessionToken) -> AccessKey | None:
        self._ask()
        return self.key if token == self.token else None

    def _ask(self) -> None:
        self.asked += 1
        self.threads.add(threading.get_ident())
        if self.down:
            raise StoreUnavailable

    def make(self, revoked: str | None = None) -> AccessKey:
        self.key = AccessKey(self.token.id, "tablet", frozenset({"read"}), "2026-03-04T10:00:00.000Z", revoked)
        return self.key


class Checked:
    """Key checks by a clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 1000.0
        self.kept = StoredRecord()
        self.checks = KeyChecks(self.kept, lambda: self.now)

    def check(self, token: Token | None = None) -> AccessKey | None:
        token = token or self.kept.token
        known, key = self.checks.known(token)
        return key if known else asyncio.run(self.checks.look_up(token))

    def any_made(self) -> bool:
        return asyncio.run(self.checks.any_made())


def test_a_revocation_counts_within_five_seconds() -> None:
    assert REMEMBERED_S <= 5
    checked = Checked()
    made = checked.kept.make()
    assert checked.check() == made
    revoked = checked.kept.make("2026-03-04T10:00:01.000Z")
    checked.now += REMEMBERED_S - 0.001
    assert checked.check() == made
    assert checked.kept.asked == 1
    checked.now += 0.001
    assert checked.check() == revoked
    assert checked.kept.asked == 2


def test_a_token_that_opens_nothing_is_not_looked_up_again_at_once() -> None:
    checked = Checked()
    assert [checked.check() for _ in range(100)] == [None] * 100
    assert checked.kept.asked == 1


def test_a_token_of_the_same_key_with_another_secret_is_not_taken_for_it() -> None:
    checked = Checked()
    made = checked.kept.make()
    assert checked.check() == made
    other = Token.read(f"hoof_{made.id}_{'A' * 43}")
    assert checked.check(other) is None
    assert checked.check() == made


def test_what_is_remembered_does_not_grow_without_end() -> None:
    checked = Checked()
    made = checked.kept.make()
    for _ in range(1500):
        asyncio.run(checked.checks.look_up(Token.make()))
    assert len(checked.checks._found) == 1000
    assert checked.check() == made


def test_no_token_lies_in_what_is_remembered() -> None:
    checked = Checked()
    checked.kept.make()
    checked.check()
    assert checked.kept.token.digest in repr(vars(checked.checks))
    assert checked.kept.token.text not in repr(vars(checked.checks))


def test_the_store_is_asked_beside_the_thread_that_answers_requests() -> None:
    checked = Checked()
    checked.kept.make()
    checked.check()
    checked.any_made()
    assert threading.get_ident() not in checked.kept.threads


def test_the_first_key_is_seen_within_five_seconds_and_never_forgotten() -> None:
    checked = Checked()
    assert checked.any_made() is False
    checked.kept.make()
    checked.now += REMEMBERED_S - 0.001
    assert checked.any_made() is False
    checked.now += 0.001
    assert checked.any_made() is True
    checked.kept.key = None
    checked.now += 1e6
    assert checked.any_made() is True
    assert checked.kept.asked == 2


def test_a_store_that_does_not_answer_is_neither_a_yes_nor_a_no() -> None:
    checked = Checked()
    checked.kept.make()
    checked.kept.down = True
    for _ in range(2):
        with pytest.raises(StoreUnavailable):
            checked.check()
        with pytest.raises(StoreUnavailable):
            checked.any_made()
    checked.kept.down = False
    assert checked.check() is not None
    assert checked.any_made() is True
