"""GET /v1/assessments: found by what was said of them, page by page, whatever is kept meanwhile."""

from __future__ import annotations

import itertools
import random
import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

import httpx
import pytest

from fitcheck.records import Draft, Store

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
_KEPT = Draft(
    kind="assessment",
    received=b"{}",
    answer=b"{}",
    id="",
    created="2026-03-04T10:00:00.000Z",
    person="A-1",
    assessor="S-1",
    horse="H-101",
    foot="left_fore",
    visit="2026-03-04-H-101",
    stage="finished",
    decision="release",
    fitted="2026-03-04",
    rulebook_version="1.2.0",
    rulebook_digest="sha256:" + "b" * 64,
)
FEET = ("left_fore", "right_fore", "left_hind", "right_hind")
DECISIONS = ("release", "go_on", "put_right", "stop_and_refer", "incomplete")


def one(**changes: Any) -> Draft:
    return replace(_KEPT, **({"id": str(uuid.uuid4())} | changes))


@pytest.fixture
def many(store: Store) -> list[Draft]:
    """Two hundred assessments over three days, of few people and horses; the rest by a fixed seed."""
    seed = random.Random(200)
    drafts = [
        one(
            person=seed.choice(["A-1", "A-2", None]),
            assessor=seed.choice(["S-1", "S-2", None]),
            horse=seed.choice(["H-101", "H-102", None]),
            visit=seed.choice(["v-1", "v-2", None]),
            foot=seed.choice(FEET),
            decision=seed.choice(DECISIONS),
            created=f"2026-03-0{4 + number // 70}T{number % 24:02}:59:59.999Z",
        )
        for number in range(200)
    ]
    store.keep_many(drafts)
    return drafts


def pages(ask: Ask, query: str) -> Iterator[dict[str, Any]]:
    """Every page from the first on, by the header Link, which must agree with next."""
    address = f"/v1/assessments?{query}"
    while True:
        response = ask("GET", address)
        assert response.status_code == 200, response.text
        page = response.json()
        yield page
        if page["next"] is None:
            assert "link" not in response.headers
            return
        link = response.headers["link"]
        assert link.startswith("</v1/assessments?")
        assert link.endswith('>; rel="next"')
        address = link[1 : link.index(">")]
        assert httpx.URL(address).params["after"] == page["next"]


def ids(ask: Ask, query: str) -> list[str]:
    return [each["id"] for page in pages(ask, query) for each in page["assessments"]]


def test_an_assessment_is_listed_with_all_that_its_record_says(own: Ask, store: Store) -> None:
    first = one(external_system="practice", external_id="F-1")
    second = one(person=None, assessor=None, horse=None, visit=None, fitted=None)
    store.keep_many([first, replace(second, about=first.id)])
    answer = own("GET", "/v1/assessments?order=oldest").json()
    assert answer == {
        "assessments": [
            {
                "id": first.id,
                "number": 1,
                "created": "2026-03-04T10:00:00.000Z",
                "foot": "left_fore",
                "stage": "finished",
                "decision": "release",
                "person": "A-1",
                "assessor": "S-1",
                "horse": "H-101",
                "visit": "2026-03-04-H-101",
                "fitted": "2026-03-04",
                "external_system": "practice",
                "external_id": "F-1",
                "rulebook": {"version": "1.2.0", "digest": "sha256:" + "b" * 64},
                "corrects": None,
                "superseded": True,
                "erased": False,
                "href": f"/v1/assessments/{first.id}",
            },
            {
                "id": second.id,
                "number": 2,
                "created": "2026-03-04T10:00:00.000Z",
                "foot": "left_fore",
                "stage": "finished",
                "decision": "release",
                "person": None,
                "assessor": None,
                "horse": None,
                "visit": None,
                "fitted": None,
                "external_system": None,
                "external_id": None,
                "rulebook": {"version": "1.2.0", "digest": "sha256:" + "b" * 64},
                "corrects": first.id,
                "superseded": False,
                "erased": False,
                "href": f"/v1/assessments/{second.id}",
            },
        ],
        "next": None,
    }


def test_a_store_without_assessments_has_an_empty_list(own: Ask) -> None:
    assert own("GET", "/v1/assessments").json() == {"assessments": [], "next": None}


def test_other_kinds_of_record_are_not_listed(own: Ask, store: Store) -> None:
    kept = one()
    store.keep_many([kept, one(kind="override", about=kept.id)])
    [listed] = own("GET", "/v1/assessments").json()["assessments"]
    assert (listed["id"], listed["superseded"]) == (kept.id, False)


def test_filters_leave_just_those_that_a_plain_look_through_finds(own: Ask, many: list[Draft]) -> None:
    """Every pair of filters, against the drafts themselves."""

    def has(name: str, value: str) -> tuple[str, Callable[[Draft], bool]]:
        return value, lambda draft: getattr(draft, name) == value

    choices = {
        name: [has(name, value) for value in values]
        for name, values in {
            "person": ["A-1", "nobody"],
            "assessor": ["S-2"],
            "horse": ["H-102"],
            "visit": ["v-1"],
            "foot": ["left_hind"],
            "decision": ["stop_and_refer"],
        }.items()
    }
    choices["from"] = [("2026-03-05", lambda draft: draft.created[:10] >= "2026-03-05")]
    choices["to"] = [
        ("2026-03-05", lambda draft: draft.created[:10] <= "2026-03-05"),
        ("9999-12-31", lambda _: True),
    ]
    found = 0
    for (one_name, ones), (other_name, others) in itertools.combinations(choices.items(), 2):
        for (first, holds), (second, also) in itertools.product(ones, others):
            query = urlencode({one_name: first, other_name: second, "order": "oldest", "limit": 13})
            expected = [draft.id for draft in many if holds(draft) and also(draft)]
            assert ids(own, query) == expected, query
            found += len(expected)
    assert found > 500


def test_both_orders_list_everything_once(own: Ask, many: list[Draft]) -> None:
    kept = [draft.id for draft in many]
    for limit in (1, 7, 100, 199, 200):
        assert ids(own, f"order=oldest&limit={limit}") == kept
    assert ids(own, "limit=7") == ids(own, "order=newest&limit=200") == kept[::-1]
    assert [len(page["assessments"]) for page in pages(own, "")] == [50, 50, 50, 50]


@pytest.mark.parametrize("order", ["newest", "oldest"])
def test_what_is_kept_between_two_pages_moves_none_across_their_border(
    own: Ask, store: Store, many: list[Draft], order: str
) -> None:
    before = [draft.id for draft in many if draft.person == "A-1"]
    seen: list[str] = []
    later: list[str] = []
    for page in pages(own, f"person=A-1&limit=9&order={order}"):
        seen += [each["id"] for each in page["assessments"]]
        if len(later) < 12:
            # Also one that lies earlier by its time: what counts is when it was kept.
            drafts = [one(), one(person="A-2"), one(created="2020-01-01T00:00:00.000Z")]
            store.keep_many(drafts)
            later += [drafts[0].id, drafts[2].id]
    assert len(later) == 12
    assert seen == (before + later if order == "oldest" else before[::-1])


def test_what_is_erased_between_two_pages_moves_none_across_their_border(
    own: Ask, store: Store, many: list[Draft]
) -> None:
    seen: list[str] = []
    for number, page in enumerate(pages(own, "limit=30&order=oldest")):
        seen += [each["id"] for each in page["assessments"]]
        if number == 1:
            store.erase("A-2", reason="asked for by the person", created="2026-03-09T10:00:00.000Z")
    assert seen == [draft.id for draft in many]


@pytest.mark.parametrize(
    "query",
    [
        "person=",
        "person=a%0Ab",
        "person=" + "a" * 65,
        "person=A-1&person=A-1",
        "persn=A-1",
        "foot=left",
        "foot=",
        "decision=ok",
        "order=up",
        "limit=0",
        "limit=201",
        "limit=-1",
        "limit=1.5",
        "limit=%D9%A1",
        "limit=" + "9" * 5000,
        "from=2026-3-4",
        "from=2026-02-30",
        "from=20260304",
        "from=2026-W10-3",
        "from=2026-03-04T10:00:00Z",
        "from=2026-03-05&to=2026-03-04",
        "after=",
        "after=x",
        "after=" + "A" * 22,
        "after=" + "A" * 5000,
        "after=%C3%A9",
    ],
)
def test_a_query_that_asks_for_nothing_that_can_be_is_refused(own: Ask, problem: CheckProblem, query: str) -> None:
    [error] = problem(own("GET", f"/v1/assessments?{query}"), "bad-query")
    assert error["field"].removeprefix("query.") in query


def test_a_cursor_leads_on_only_in_its_own_list(own: Ask, problem: CheckProblem, many: list[Draft]) -> None:
    assert many
    cursor = own("GET", "/v1/assessments?person=A-1&limit=5").json()["next"]
    assert own("GET", f"/v1/assessments?person=A-1&limit=9&order=newest&after={cursor}").status_code == 200
    for query in ("", "person=A-2", "person=A-1&order=oldest", "person=A-1&foot=left_fore", "assessor=A-1"):
        [error] = problem(own("GET", f"/v1/assessments?{query}&after={cursor}"), "bad-query")
        assert (error["field"], error["value"]) == ("query.after", cursor)
    for wrong in (cursor[:-1], cursor + "=", cursor + "A", cursor.swapcase(), f"{cursor} "):
        problem(own("GET", f"/v1/assessments?person=A-1&after={wrong}"), "bad-query")


def test_names_in_any_script_are_found_and_followed(own: Ask, store: Store) -> None:
    drafts = [one(horse="Łąka 7 馬 &=+%/?#") for _ in range(3)]
    store.keep_many(drafts)
    query = urlencode({"horse": "Łąka 7 馬 &=+%/?#", "limit": 1, "order": "oldest"})
    assert ids(own, query) == [draft.id for draft in drafts]


def test_an_id_that_came_with_an_import_is_found_where_the_list_says(own: Ask, store: Store) -> None:
    strange = one(id="old 7%ä", answer=b'{"id":"old 7%\xc3\xa4"}')
    store.keep(strange)
    [listed] = own("GET", "/v1/assessments").json()["assessments"]
    assert own("GET", listed["href"]).content == strange.answer
