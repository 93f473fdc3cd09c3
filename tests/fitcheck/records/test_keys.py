"""Access keys in the store: only a digest is kept, a wrong token opens nothing, and what was used stays known."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
import sqlalchemy as sa

from fitcheck.records import Store, open_store
from fitcheck.records.keys import PREFIX, AccessKey, AccessKeys, KeyUse, Token, UnknownKey
from fitcheck.records.migrations import REVISIONS
from fitcheck.records.migrations.upgrade import upgrade
from fitcheck.records.tables import metadata


@pytest.fixture
def keys(store: Store) -> AccessKeys:
    return AccessKeys(store)


def use(key: str, at: int = 0, **changes: int) -> KeyUse:
    return KeyUse(
        key, f"2026-03-04T10:00:{at:02}.000Z", f"r-{at}", "POST", "/v1/assessments", **({"status": 201} | changes)
    )


def test_a_token_has_the_form_that_is_searched_for_and_no_two_are_alike() -> None:
    tokens = [Token.make() for _ in range(200)]
    for token in tokens:
        assert token.text.startswith(f"{PREFIX}{token.id}_")
        assert Token.read(token.text) == token
        # At least 32 random bytes, six bits a character.
        assert len(token.text.rpartition(token.id + "_")[2]) * 6 >= 32 * 8
        assert token.digest == hashlib.sha256(token.text.encode()).hexdigest()
        assert token.text not in repr(token)
    assert len({token.id for token in tokens}) == len({token.text for token in tokens}) == 200


@pytest.mark.parametrize("change", ["", " ", "\n", "A", "=", "é", "\x00", "%41"])
def test_a_text_that_is_nearly_a_token_is_none(change: str) -> None:
    text = Token.make().text
    for wrong in (text[:-1] + change, change + text[1:], f"{text}{change or 'A'}", text.upper(), text[len(PREFIX) :]):
        assert Token.read(wrong) is None or wrong == text[:-1] + "A"


def test_a_key_is_known_by_its_token_and_by_no_other(keys: AccessKeys) -> None:
    made, token = keys.make("the yard's tablet", ["read", "assess"])
    other, _ = keys.make("a monitor", ["metrics"])
    assert (
        keys.check(token)
        == made
        == AccessKey(token.id, "the yard's tablet", frozenset({"assess", "read"}), made.created)
    )
    assert keys.check(Token.make()) is None
    for id_ in (made.id, other.id):
        guessed = Token.read(f"{PREFIX}{id_}_{'A' * 43}")
        assert guessed is not None
        assert keys.check(guessed) is None
    assert keys.every() == [made, other]


def test_nothing_of_a_token_but_its_digest_lies_on_the_disk(tmp_path: Path) -> None:
    with open_store(f"sqlite:///{tmp_path / 'records.sqlite3'}") as store:
        keys = AccessKeys(store)
        made, token = keys.make("the yard's tablet", ["read"])
        keys.note_uses([use(made.id)])
    lying = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
    assert token.digest.encode() in lying
    assert token.text.encode() not in lying
    assert token.text.rpartition(made.id)[2].encode() not in lying


def test_a_key_opens_what_its_scopes_name_and_admin_everything(keys: AccessKeys) -> None:
    reader, _ = keys.make("reader", ["read"])
    admin, _ = keys.make("admin", ["admin"])
    assert [reader.opens(scope) for scope in ("assess", "read", "mark", "metrics", "admin")] == [
        False,
        True,
        False,
        False,
        False,
    ]
    assert all(admin.opens(scope) for scope in ("assess", "read", "metrics", "admin"))


def test_a_key_is_a_persons_or_a_devices_and_may_end(keys: AccessKeys) -> None:
    tablet, _ = keys.make("tablet", ["assess"])
    mine, token = keys.make("S-1", ["mark", "read"], holder="person", until="2026-12-31")
    assert (tablet.holder, tablet.person, tablet.until) == ("device", None, None)
    assert keys.check(token) == mine
    assert (mine.person, mine.until) == ("S-1", "2026-12-31")
    assert [mine.ended(at) for at in ("2026-12-31T23:59:59.999Z", "2027-01-01T00:00:00.000Z")] == [False, True]
    assert not tablet.ended("9999-12-31T00:00:00.000Z")
    with pytest.raises(ValueError, match="belongs to a person"):
        keys.make("tablet", ["mark"])


def test_keys_that_are_all_at_their_end_are_none_that_is_usable(keys: AccessKeys) -> None:
    keys.make("tablet", ["read"], until="2020-01-01")
    assert (keys.any_made(), keys.any_usable()) == (True, False)
    keys.make("tablet", ["read"], until="9999-12-31")
    assert keys.any_usable()


def test_an_erased_persons_keys_are_revoked_and_bear_no_name(keys: AccessKeys, store: Store) -> None:
    _, token = keys.make("S-1", ["mark"], holder="person")
    device, _ = keys.make("S-1", ["assess"])
    other, _ = keys.make("S-2", ["mark"], holder="person")
    store.erase("S-1", reason="asked for", created="2026-03-05T10:00:00.000Z")
    gone = keys.check(token)
    assert gone is not None
    assert (gone.name, gone.revoked) == ("(erased)", "2026-03-05T10:00:00.000Z")
    assert {key.name for key in keys.every() if key.revoked is None} == {device.name, other.name}


def test_a_revoked_key_stays_revoked_since_then_and_was_still_made(keys: AccessKeys) -> None:
    assert (keys.any_made(), keys.any_usable()) == (False, False)
    made, token = keys.make("lost tablet", ["read"])
    assert (keys.any_made(), keys.any_usable()) == (True, True)
    revoked = keys.revoke(made.id)
    assert revoked.revoked is not None
    assert keys.revoke(made.id) == revoked == keys.check(token)
    assert (keys.any_made(), keys.any_usable()) == (True, False)
    with pytest.raises(UnknownKey, match="0123456789ab"):
        keys.revoke("0123456789ab")


def test_uses_are_told_the_latest_first_and_a_key_when_it_was_last_used(keys: AccessKeys) -> None:
    first, _ = keys.make("first", ["read"])
    second, _ = keys.make("second", ["read"])
    keys.note_uses([])
    keys.note_uses([use(first.id, 3), use(second.id, 2), use(first.id, 1, status=403)])
    assert keys.uses(limit=10) == [use(first.id, 3), use(second.id, 2), use(first.id, 1, status=403)]
    assert keys.uses(first.id, limit=1) == [use(first.id, 3)]
    assert [key.last_used for key in keys.every()] == [use("", 3).at, use("", 2).at]
    assert keys.forget_uses("2026-03-04T10:00:03") == 2
    assert keys.uses(limit=10) == [use(first.id, 3)]


def test_a_store_from_before_there_were_keys_gets_their_tables_and_keeps_its_records(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    engine = sa.create_engine(url)
    with engine.begin() as connection:
        upgrade(connection, REVISIONS[0])
        connection.execute(sa.text("UPDATE head SET number = 7"))
    engine.dispose()
    with open_store(url) as store:
        made, token = AccessKeys(store).make("after", ["read"])
        assert AccessKeys(store).check(token) == made
        assert store.head().number == 7


def test_the_tables_that_the_migrations_make_are_those_that_the_program_sees(store: Store) -> None:
    there = sa.inspect(store._engine)
    for name in ("access_keys", "key_uses"):
        table = metadata.tables[name]
        assert {(each["name"], each["nullable"]) for each in there.get_columns(name)} == {
            (column.name, column.nullable) for column in table.columns
        }
        assert {each["name"] for each in there.get_indexes(name)} == {index.name for index in table.indexes}
