"""A batch may be sent again: a line with a key is kept once, and answered as it was."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from fitcheck.records import Store, open_store, verify
from tests.support.served import Served

Ask = Callable[..., httpx.Response]
NDJSON = {"content-type": "application/x-ndjson"}
GOOD: dict[str, Any] = EXAMPLES[0].fitting


def line(key: object, fitting: object = GOOD, **more: object) -> str:
    return json.dumps({"key": key, "fitting": fitting} | more)


def send(ask: Ask, *lines: str, query: str = "?keep=true", **headers: str) -> list[dict[str, Any]]:
    response = ask("POST", f"/v1/assessments/batch{query}", content="\n".join(lines), headers=NDJSON | headers)
    assert response.status_code == 200
    return [json.loads(each) for each in response.text.splitlines()]


def test_lines_sent_again_keep_nothing_twice_and_are_answered_as_they_were(own: Ask, store: Store) -> None:
    lines = [line("a"), json.dumps(GOOD), line("b", GOOD | {"visit": "v-2"})]
    first = send(own, *lines)
    again = send(own, *lines)
    assert store.head().number == 4
    assert again[0] == first[0] | {"replayed": True}
    assert again[2] == first[2] | {"replayed": True}
    assert again[1]["location"] != first[1]["location"]
    assert all("replayed" not in each for each in (*first, again[1]))


def test_the_same_line_twice_in_one_batch_is_kept_once(own: Ask, store: Store) -> None:
    one, other = send(own, line("a"), line("a"))
    assert other == one | {"line": 2, "replayed": True}
    assert store.head().number == 1


def test_a_key_with_another_fitting_is_that_lines_problem(own: Ask, store: Store) -> None:
    send(own, line("a"))
    for lines in ([line("a", GOOD | {"visit": "v-2"}), line("b")], [line("c"), line("c", GOOD | {"visit": "v-2"})]):
        answers = {answer["line"]: answer for answer in send(own, *lines)}
        [problem] = [answer["problem"] for answer in answers.values() if "problem" in answer]
        assert problem["type"] == "/problems/key-reused"
        assert problem["errors"][0]["field"] == "key"
        assert sum("location" in answer for answer in answers.values()) == 1
    assert store.head().number == 3


def test_a_line_is_kept_as_its_fitting_would_be_by_itself(own: Ask, store: Store) -> None:
    fitting = json.dumps(GOOD | {"visit": '€ é {"key": "x", "fitting": 1}'}, ensure_ascii=False, indent=2).replace(
        "\n", " "
    )
    [answer] = send(own, f'  {{"fitting" :\t{fitting} , "key" : "k"}} ')
    record = store.record(answer["assessment"]["id"])
    assert record is not None
    assert record.received == fitting.encode()
    alone = own(
        "POST",
        "/v1/assessments",
        content=fitting.encode(),
        headers={"content-type": "application/json", "idempotency-key": "k"},
    )
    assert (alone.headers["idempotency-replayed"], alone.content) == ("true", record.answer)
    assert store.head().number == 1


def test_keys_belong_to_the_access_key(yard: Any) -> None:
    one, other = yard.bearer("assess"), yard.bearer("assess")
    answers = [send(yard.ask, line("k"), **bearer)[0]["location"] for bearer in (one, other, one)]
    assert answers[0] == answers[2] != answers[1]


def test_with_nothing_to_keep_a_key_has_no_meaning(own: Ask, store: Store) -> None:
    one, other = send(own, line("a"), line("a", GOOD | {"visit": "v-2"}), query="")
    assert set(one) == set(other) == {"line", "assessment"}
    assert store.head().number == 0


@pytest.mark.parametrize(
    ("bad", "kind", "field"),
    [
        (line(""), "bad-idempotency-key", "key"),
        (line("a b"), "bad-idempotency-key", "key"),
        (line("k" * 256), "bad-idempotency-key", "key"),
        (line(7), "bad-idempotency-key", "key"),
        (json.dumps({"fitting": GOOD}), "bad-idempotency-key", "key"),
        (line("a", corrects="x"), "bad-input", "corrects"),
        (line("a", [GOOD]), "bad-input", "(document)"),
        (line("a", GOOD | {"colour": "bay"}), "bad-input", "colour"),
        (line("a")[:-1], "bad-json", "(document)"),
        ('{"key": "a", "key": "b", "fitting": {}}', "bad-json", "(document)"),
    ],
)
def test_a_bad_line_with_a_key_spoils_only_itself(own: Ask, store: Store, bad: str, kind: str, field: str) -> None:
    refused, good = send(own, bad, line("good"))
    assert refused["problem"]["type"] == f"/problems/{kind}"
    assert refused["problem"]["errors"][0]["field"] == field
    assert "location" in good
    # Under a key of what was refused nothing was kept: it is free.
    assert "replayed" not in send(own, line("a"))[0]
    assert store.head().number == 2


def test_a_batch_cut_short_by_a_kill_is_sent_again_and_each_line_is_there_once(
    root: Path, tmp_path: Path, records: str
) -> None:
    count = 600
    body = "".join(line(f"line-{number}", GOOD | {"visit": f"v-{number}"}) + "\n" for number in range(count)).encode()
    answered: list[dict[str, Any]] = []
    with Served(root, tmp_path, records) as server:
        address = f"{server.url}/v1/assessments/batch?keep=true"
        with (
            httpx.stream("POST", address, content=body, headers=NDJSON, timeout=60) as response,
            suppress(httpx.TransportError),
        ):
            for each in response.iter_lines():
                answered.append(json.loads(each))
                if len(answered) == 120:
                    server.kill()
        server.start()
        again = httpx.post(f"{server.url}/v1/assessments/batch?keep=true", content=body, headers=NDJSON, timeout=120)
        answers = [json.loads(each) for each in again.text.splitlines()]
    assert 120 <= len(answered) < count
    assert len(answers) == count
    for first, second in zip(answered, answers, strict=False):
        assert second == first | {"replayed": True}
    with open_store(records) as store:
        assert list(verify(store)) == []
        kept = store.following(0, 2 * count)
    assert [record.visit for record in kept] == [f"v-{number}" for number in range(count)]
    assert [record.id for record in kept] == [answer["assessment"]["id"] for answer in answers]
