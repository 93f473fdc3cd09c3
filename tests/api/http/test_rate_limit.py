"""How fast requests may come: each key for itself, each client without one for itself, and in bounded memory."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.http.rate_limit import RateLimit, client_of
from fitcheck.settings import ServiceSettings

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def test_a_bucket_gives_its_burst_and_then_its_rate() -> None:
    clock = Clock()
    limit = RateLimit(rate=2.0, burst=5, clock=clock)
    assert [limit.take("a") for _ in range(6)] == [0] * 5 + [1]
    clock.now += 0.5
    assert [limit.take("a"), limit.take("a")] == [0, 1]
    clock.now += 1000
    assert [limit.take("a") for _ in range(6)] == [0] * 5 + [1]


def test_whoever_waits_as_long_as_is_said_is_let_in() -> None:
    clock, seed = Clock(), random.Random(7)
    limit = RateLimit(rate=0.3, burst=2, clock=clock)
    waits = 0
    for _ in range(500):
        wait = limit.take("a")
        if wait:
            waits += 1
            clock.now += wait
            assert limit.take("a") == 0
        clock.now += seed.random() * 3
    assert waits > 50


def test_over_time_no_more_come_through_than_burst_and_rate_allow() -> None:
    clock, seed = Clock(), random.Random(11)
    limit = RateLimit(rate=10.0, burst=20, clock=clock)
    through = 0
    while clock.now < 100:
        through += limit.take("a") == 0
        clock.now += seed.expovariate(100)
    assert 980 <= through <= 20 + 10 * 100 + 1


def test_one_who_sends_too_fast_takes_nothing_from_another() -> None:
    limit = RateLimit(rate=1.0, burst=3, clock=Clock())
    assert [limit.take("a") for _ in range(10)].count(0) == 3
    assert [limit.take("b") for _ in range(3)] == [0, 0, 0]


def test_buckets_do_not_grow_without_end_and_the_busy_ones_stay() -> None:
    limit = RateLimit(rate=1.0, burst=1, clock=Clock(), most=100)
    assert limit.take("busy") == 0
    for number in range(1000):
        limit.take(f"client {number}")
        assert limit.take("busy") > 0
    assert len(limit) == 100


def test_a_rate_of_zero_sets_no_limit() -> None:
    limit = RateLimit(rate=0, burst=1, clock=Clock())
    assert {limit.take("a") for _ in range(1000)} == {0}
    assert len(limit) == 0


@pytest.mark.parametrize(
    ("address", "client"),
    [
        ("198.51.100.1", "198.51.100.1"),
        ("2001:db8:0:1::1", "2001:db8:0:1::/64"),
        ("2001:db8:0:1:ffff::", "2001:db8:0:1::/64"),
        ("2001:db8:0:2::1", "2001:db8:0:2::/64"),
        ("::ffff:198.51.100.1", "198.51.100.1"),
        ("fe80::1%eth0", "fe80::/64"),
        ("", ""),
        ("a:b", "a:b"),
    ],
)
def test_all_addresses_of_one_site_are_one_client(address: str, client: str) -> None:
    assert client_of(address) == client


@pytest.fixture
def slow(yard_with: Callable[..., Any], tmp_path: Path) -> Any:
    """A service that takes three requests and then one in a hundred seconds."""
    return yard_with(tmp_path, rate=0.01, burst=3)


def test_a_key_that_sends_too_fast_is_told_how_long_to_wait(slow: Any, problem: CheckProblem) -> None:
    fast, other = slow.bearer("read"), slow.bearer("read")
    # Looking a key up counts for the client once, so the answers below are the key's own.
    statuses = [slow.ask("GET", "/v1/rulebook", headers=fast).status_code for _ in range(4)]
    assert statuses == [200, 200, 200, 429]
    response = slow.ask("GET", "/v1/rulebook", headers=fast)
    problem(response, "too-many-requests")
    # RFC 9110, 10.2.3: whole seconds.
    assert 90 <= int(response.headers["retry-after"]) <= 100
    assert [name for name in response.headers if name.startswith(("ratelimit", "x-ratelimit"))] == []
    assert slow.ask("GET", "/v1/rulebook", headers=other).status_code == 200
    slow.store.close()


def test_guessing_keys_is_slowed_down_before_the_store_is_asked(
    slow: Any, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []
    monkeypatch.setattr("fitcheck.records.keys.AccessKeys.check", lambda _, token: asked.append(token))
    for number in range(10):
        guess = {"authorization": f"Bearer hoof_{number:012x}_{'A' * 43}"}
        response = slow.ask("GET", "/v1/rulebook", headers=guess)
        problem(response, "unauthorized" if number < 3 else "too-many-requests")
    assert len(asked) == 3
    problem(slow.ask("GET", "/v1/rulebook"), "too-many-requests")
    problem(slow.ask("GET", "/docs"), "too-many-requests")
    slow.store.close()


def test_a_service_for_its_own_machine_alone_sets_no_limit(ask_of: Callable[[FastAPI], Ask]) -> None:
    ask = ask_of(create_app(settings=ServiceSettings(rate=0.01, burst=1)))
    assert {ask("GET", "/v1/rulebook").status_code for _ in range(10)} == {200}
