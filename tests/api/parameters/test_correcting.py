"""A correction is of the same foot and horse, of what If-Match names, and the only one of its kind."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from fitcheck.records import Store, open_store
from tests.support.served import Served

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
GOOD: dict[str, Any] = EXAMPLES[0].fitting
HORSE = {"id": "H-101", "transponder": "276020000000001"}
_THREADS = 20


def post(ask: Ask, query: str = "", fitting: Any = GOOD, **headers: Any) -> httpx.Response:
    return ask("POST", f"/v1/assessments{query}", json=fitting, headers=headers)


def test_a_second_correction_is_told_which_one_to_correct(own: Ask, store: Store, problem: CheckProblem) -> None:
    old = post(own).json()["id"]
    new = post(own, f"?corrects={old}").json()["id"]
    response = post(own, f"?corrects={old}")
    [error] = problem(response, "already-corrected")
    assert (error["field"], error["value"], error["allowed"]) == ("query.corrects", old, new)
    assert f"corrects={new}" in error["detail"]
    assert post(own, f"?corrects={new}").status_code == 201
    assert store.head().number == 3


@pytest.mark.parametrize(
    ("changed", "field", "value", "allowed"),
    [
        ({"foot": "right_fore"}, "foot", "right_fore", "left_fore"),
        ({"foot": "left_hind"}, "foot", "left_hind", "left_fore"),
        ({"horse": {"id": "H-2"}}, "horse", "H-2", "H-101"),
        ({"horse": {"transponder": HORSE["transponder"]}}, "horse", HORSE["transponder"], "H-101"),
        ({"horse": None}, "horse", None, "H-101"),
    ],
)
def test_another_foot_or_horse_is_not_corrected(
    own: Ask, store: Store, problem: CheckProblem, changed: Any, field: str, value: Any, allowed: str
) -> None:
    old = post(own, fitting=GOOD | {"horse": HORSE, "foot": "left_fore"}).json()["id"]
    fitting = {
        name: each
        for name, each in (GOOD | {"horse": HORSE, "foot": "left_fore"} | changed).items()
        if each is not None
    }
    response = post(own, f"?corrects={old}", fitting)
    [error] = problem(response, "correction-of-another")
    assert (error["field"], error["value"], error["allowed"]) == (field, value, allowed)
    assert "without corrects" in error["detail"]
    assert store.head().number == 1


def test_a_correction_may_add_the_horse_and_another_of_its_names_and_change_the_visit(own: Ask) -> None:
    plain = {name: each for name, each in GOOD.items() if name != "horse"}
    old = post(own, fitting=plain).json()["id"]
    by_chip = post(own, f"?corrects={old}", plain | {"horse": {"transponder": HORSE["transponder"]}})
    named = post(own, f"?corrects={by_chip.json()['id']}", plain | {"horse": HORSE})
    moved = post(own, f"?corrects={named.json()['id']}", plain | {"horse": HORSE, "visit": "another"})
    assert [each.status_code for each in (by_chip, named, moved)] == [201, 201, 201]


@pytest.mark.parametrize("given", ["{etag}", '"{id}"', '"x", {etag}', "*", 'W/"x", "{id}"'])
def test_a_correction_with_if_match_of_what_it_corrects_is_kept(own: Ask, given: str) -> None:
    old = post(own)
    named = given.format(etag=old.headers["etag"], id=old.json()["id"])
    assert post(own, f"?corrects={old.json()['id']}", **{"if-match": named}).status_code == 201


@pytest.mark.parametrize("given", ['"x"', "W/{etag}", "{id}", "", '"{other}"'])
def test_a_correction_with_another_if_match_is_not_kept(
    own: Ask, store: Store, problem: CheckProblem, given: str
) -> None:
    old, other = post(own), post(own)
    named = given.format(etag=old.headers["etag"], id=old.json()["id"], other=other.json()["id"])
    [error] = problem(post(own, f"?corrects={old.json()['id']}", **{"if-match": named}), "precondition-failed")
    assert error["field"] == "header.if-match"
    assert old.headers["etag"] in error["allowed"]
    assert store.head().number == 2


def test_if_match_without_a_correction_is_refused(own: Ask, store: Store, problem: CheckProblem) -> None:
    for given in ('"x"', "*"):
        [error] = problem(post(own, **{"if-match": given}), "precondition-failed")
        assert "corrects" in error["detail"]
    assert store.head().number == 0


def test_of_twenty_corrections_sent_at_once_one_is_kept(root: Path, tmp_path: Path, records: str) -> None:
    together = threading.Barrier(_THREADS)
    with Served(root, tmp_path, records) as server, ThreadPoolExecutor(_THREADS) as threads:
        address = f"{server.url}/v1/assessments"
        old = httpx.post(address, json=GOOD, timeout=60).json()["id"]

        def correct(number: int) -> httpx.Response:
            headers = {"idempotency-key": f"correction-{number}"}
            together.wait()
            return httpx.post(f"{address}?corrects={old}", json=GOOD, headers=headers, timeout=60)

        answers = list(threads.map(correct, range(_THREADS)))
        [kept] = [answer.json()["id"] for answer in answers if answer.status_code == 201]
        refused = [answer for answer in answers if answer.status_code == 409]
        assert len(refused) == _THREADS - 1
        assert {answer.json()["errors"][0]["allowed"] for answer in refused} == {kept}
        assert server.faults() == []
    with open_store(records) as store:
        assert store.corrections_of([old]) == {old: [kept]}
