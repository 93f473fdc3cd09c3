"""Events are sent to a real receiver by a real service: signed, in order, and until they are taken."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from api.webhooks.deliveries import signature_of
from fitcheck.records import open_store
from tests.support.receiver import Receiver
from tests.support.served import Served

_FITTING = EXAMPLES[1].fitting | {"person": {"id": "A-77", "role": "farrier"}, "horse": {"id": "H-Juniper"}}


@pytest.fixture
def served(root: Path, tmp_path: Path, records: str) -> Iterator[Served]:
    """A service that may send to this machine."""
    open_store(records).close()
    settings = {"FITCHECK_WEBHOOK_NETWORKS": "127.0.0.0/8"}
    running = Served(root, tmp_path, records, "api.service:create_service", **settings)
    running.start()
    yield running
    running.kill()


@pytest.fixture
def receiver_of(root: Path, tmp_path: Path) -> Iterator[Callable[[str], Receiver]]:
    """Makes receivers by name; none is left running."""
    made: list[Receiver] = []

    def make(name: str) -> Receiver:
        made.append(Receiver(root, tmp_path / f"{name}.ndjson"))
        return made[-1]

    yield make
    for each in made:
        each.kill()


def subscribe(served: Served, url: str, *types: str) -> dict[str, Any]:
    answer = httpx.post(f"{served.url}/v1/subscriptions", json={"url": url, "types": list(types)})
    assert answer.status_code == 201, answer.text
    body: dict[str, Any] = answer.json()
    return body


def keep(served: Served, count: int) -> list[str]:
    return [
        httpx.post(f"{served.url}/v1/assessments", json=_FITTING).raise_for_status().json()["id"] for _ in range(count)
    ]


def state(served: Served, made: dict[str, Any]) -> dict[str, Any]:
    body: dict[str, Any] = httpx.get(f"{served.url}/v1/subscriptions/{made['id']}").raise_for_status().json()
    return body


def until(condition: Callable[[], bool], within_s: float = 30.0) -> None:
    patience = time.monotonic() + within_s
    while not condition():
        assert time.monotonic() < patience
        time.sleep(0.05)


def ids(messages: list[dict[str, Any]]) -> list[str]:
    return [message["headers"]["webhook-id"] for message in messages]


def test_each_event_comes_once_signed_in_order_and_without_names(
    served: Served, receiver_of: Callable[[str], Receiver]
) -> None:
    keep(served, 1)
    receiver = receiver_of("one")
    receiver.start()
    made = subscribe(served, receiver.url)
    kept = keep(served, 12)
    messages = receiver.wait(12)
    assert ids(messages) == kept, "and nothing of before"
    for message in messages:
        headers, body = message["headers"], message["body"]
        signed = f"{headers['webhook-id']}.{headers['webhook-timestamp']}.{body}".encode()
        key = base64.b64decode(made["secret"].removeprefix("whsec_"))
        expected = base64.b64encode(hmac.digest(key, signed, hashlib.sha256)).decode()
        assert headers["webhook-signature"] == f"v1,{expected}"
        assert abs(time.time() - int(headers["webhook-timestamp"])) < 60
        assert headers["content-type"] == "application/cloudevents+json"
        event = json.loads(body)
        assert event["id"] == event["subject"] == headers["webhook-id"]
        assert set(event["data"]) == {"number", "kind", "about"}
        assert not {word for word in ("A-77", "Juniper", "heel", "put_right") if word in body}
    sequences = [json.loads(message["body"])["sequence"] for message in messages]
    assert sequences == sorted(sequences)
    until(lambda: state(served, made)["after"] == 13)
    assert state(served, made)["last_error"] is None


def test_a_receiver_that_is_killed_and_comes_back_misses_nothing(
    served: Served, receiver_of: Callable[[str], Receiver]
) -> None:
    receiver = receiver_of("killed")
    receiver.start()
    made = subscribe(served, receiver.url)
    kept = keep(served, 3)
    receiver.wait(3)
    until(lambda: state(served, made)["after"] == 3)
    receiver.kill()
    kept += keep(served, 4)
    until(lambda: state(served, made)["attempts"] >= 1)
    failing = state(served, made)
    assert failing["last_error"] == "No answer: ConnectError."
    assert failing["failing_since"] is not None
    assert failing["next_attempt"] is not None
    receiver.start()
    assert ids(receiver.wait(7)) == kept
    until(lambda: state(served, made)["attempts"] == 0)
    assert state(served, made)["failing_since"] is None


@pytest.mark.long
def test_one_that_is_dead_and_one_that_is_slow_hold_nobody_up(
    served: Served, receiver_of: Callable[[str], Receiver]
) -> None:
    dead, slow, quick = receiver_of("dead"), receiver_of("slow"), receiver_of("quick")
    slow.start(seconds=5.0)
    quick.start()
    for each in (dead, slow, quick):
        subscribe(served, each.url)
    kept = keep(served, 20)
    assert ids(quick.wait(20, within_s=15)) == kept
    assert len(slow.messages) < 5


@pytest.mark.long
def test_the_place_is_kept_over_a_restart_and_over_a_kill(
    served: Served, receiver_of: Callable[[str], Receiver]
) -> None:
    receiver = receiver_of("restart")
    receiver.start()
    made = subscribe(served, receiver.url)
    kept = keep(served, 3)
    receiver.wait(3)
    until(lambda: state(served, made)["after"] == 3)
    for end in (served.stop, served.kill):
        receiver.kill()
        kept += keep(served, 2)
        end()
        receiver.start()
        served.start()
        receiver.wait(len(kept), within_s=60)
    # What was sent as the service was killed may come twice, with the same id.
    assert list(dict.fromkeys(ids(receiver.messages))) == kept


def test_types_that_were_not_asked_for_are_passed_over(
    served: Served, receiver_of: Callable[[str], Receiver], records: str
) -> None:
    receiver = receiver_of("types")
    receiver.start()
    made = subscribe(served, receiver.url, "fitcheck.records.erased.v1")
    keep(served, 3)
    until(lambda: state(served, made)["after"] == 3)
    with open_store(records) as store:
        erased = store.erase("A-77", reason="Asked for.", created="2026-03-05T10:00:00.000Z")
    assert erased is not None
    [message] = receiver.wait(1)
    event = json.loads(message["body"])
    assert event["type"] == "fitcheck.records.erased.v1"
    assert event["data"]["erased"] == [1, 2, 3]
    assert "A-77" not in message["body"]


def test_what_waits_for_a_receiver_is_gone_with_the_person(
    served: Served, receiver_of: Callable[[str], Receiver], records: str, tmp_path: Path
) -> None:
    receiver = receiver_of("erased")
    made = subscribe(served, receiver.url)
    keep(served, 2)
    until(lambda: state(served, made)["attempts"] >= 1)
    with open_store(records) as store:
        assert store.erase("A-77", reason="Asked for.", created="2026-03-05T10:00:00.000Z") is not None
    until(lambda: b"A-77" not in b"".join(each.read_bytes() for each in tmp_path.glob("records.sqlite3*")))
    receiver.start()
    messages = receiver.wait(3)
    assert "A-77" not in json.dumps(messages)


def test_a_redirect_is_a_failure_and_is_not_followed(served: Served, receiver_of: Callable[[str], Receiver]) -> None:
    receiver = receiver_of("redirect")
    receiver.start(status=307)
    made = subscribe(served, receiver.url)
    keep(served, 1)
    until(lambda: state(served, made)["attempts"] >= 1)
    assert state(served, made)["last_error"] == "The answer was 307."
    assert len(receiver.messages) == 1


@pytest.mark.long
def test_who_wants_no_more_is_sent_no_more_until_a_test_is_taken(
    served: Served, receiver_of: Callable[[str], Receiver]
) -> None:
    receiver = receiver_of("gone")
    receiver.start(status=410)
    made = subscribe(served, receiver.url)
    kept = keep(served, 2)
    until(lambda: state(served, made)["disabled"] is not None)
    assert "410" in state(served, made)["last_error"]
    address = f"{served.url}/v1/subscriptions/{made['id']}"
    tried = httpx.post(f"{address}/test").json()
    assert (tried["delivered"], tried["status"]) == (False, 410)
    receiver.kill()
    receiver.start()
    before = len(receiver.messages)
    tried = httpx.post(f"{address}/test").json()
    assert (tried["delivered"], tried["status"]) == (True, 204)
    assert ids(receiver.wait(before + 3)[before + 1 :]) == kept
    assert httpx.delete(address).status_code == 204
    assert httpx.get(address).status_code == 404
    keep(served, 1)
    time.sleep(1.5)
    assert len(receiver.messages) == before + 3


def test_a_signature_is_that_of_the_specifications_own_example() -> None:
    """Standard Webhooks 1.0, the symmetric example that its reference libraries test with."""
    signed = signature_of(
        "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
        "msg_p5jXN8AQM9LWM0D4loKWxJek",
        1614265330,
        b'{"test": 2432232314}',
    )
    assert signed == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_reference_library_takes_what_we_sign_and_nothing_else() -> None:
    library = pytest.importorskip("standardwebhooks", reason="part of the extra suite")
    secret, at = "whsec_" + base64.b64encode(b"k" * 32).decode(), int(time.time())
    body = '{"id":"1","text":"Łąka"}'
    headers = {"webhook-id": "m-1", "webhook-timestamp": f"{at}"}
    headers["webhook-signature"] = signature_of(secret, "m-1", at, body.encode())
    assert library.Webhook(secret).verify(body, headers) == json.loads(body)
    for changed in (headers | {"webhook-id": "m-2"}, headers | {"webhook-timestamp": f"{at - 1}"}):
        with pytest.raises(library.WebhookVerificationError):
            library.Webhook(secret).verify(body, changed)
    with pytest.raises(library.WebhookVerificationError):
        library.Webhook(secret).verify(body + " ", headers)
