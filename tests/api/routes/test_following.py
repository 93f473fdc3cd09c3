"""A fitting that follows a kept assessment, over HTTP: judged, kept as it was sent, told, judged again, exported."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from fitcheck.records import RecordFilter, Store, open_store, verify
from fitcheck.records.exchange.importing import Importer
from fitcheck.records.exchange.portable import line_of
from fitcheck.stored import assessment_of, followed, foot_of
from fitcheck.stored.regrade import Regrading
from rules import first_rulebook, shipped_rulebook

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
JSON = {"content-type": "application/json"}


@pytest.fixture
def nailed(changed: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The good foot, nailed, fitted by A-1."""
    raw = changed(stage="nailed", person={"id": "A-1"}, observations__finish=..., observations__soundness=...)
    for nail in raw["observations"]["nails"]:
        del nail["clinch"]
    return raw


def finished(follows: str, **more: Any) -> dict[str, Any]:
    """The same foot finished, with what only that shows; fitted by A-2."""
    observations: dict[str, Any] = {name: {"as_before": True} for name in ("heel_fit", "toe_fit", "levelness")}
    observations |= {"finish": {"hand": "smooth"}, "going": {"trot_up": "sound"}}
    return {
        "foot": "left_fore",
        "stage": "finished",
        "follows": follows,
        "person": {"id": "A-2"},
        "observations": observations,
    } | more


def post(ask: Ask, document: Any, query: str = "", **headers: str) -> httpx.Response:
    body = json.dumps(document, indent=2).encode()
    return ask("POST", f"/v1/assessments{query}", content=body, headers=JSON | headers)


def kept(ask: Ask, document: Any, query: str = "") -> dict[str, Any]:
    answer = post(ask, document, query)
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_the_fitting_comes_back_as_it_was_sent_byte_for_byte(own: Ask, nailed: dict[str, Any]) -> None:
    first = kept(own, nailed)
    body = b' {"foot": "left_fore",\r\n "stage":"finished", "follows": "%s", "observations": {"nails":[]} }\n' % (
        first["id"].encode()
    )
    made = own("POST", "/v1/assessments", content=body, headers=JSON)
    address = f"{made.headers['location']}/fitting"
    found = own("GET", address)
    assert (found.status_code, found.content, found.headers["content-type"]) == (200, body, "application/json")
    assert found.headers["etag"] == made.headers["etag"]
    again = own("GET", address, headers={"if-none-match": found.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert own("HEAD", address).headers["content-length"] == str(len(body))


def test_the_fitting_of_what_is_not_there_or_was_erased_is_a_problem(
    own: Ask, store: Store, problem: CheckProblem, nailed: dict[str, Any]
) -> None:
    first = kept(own, nailed)
    store.erase("A-1", reason="asked for", created="2026-12-01T10:00:00.000Z")
    problem(own("GET", f"/v1/assessments/{first['id']}/fitting"), "gone")
    problem(own("GET", "/v1/assessments/none/fitting"), "not-found")
    problem(own("GET", f"/v1/assessments/{first['id']}/fitting?form=x"), "bad-query")


def test_it_is_judged_with_what_was_carried_and_kept_as_it_was_sent(
    own: Ask, store: Store, nailed: dict[str, Any]
) -> None:
    first = kept(own, nailed)
    document = finished(first["id"])
    answer = kept(own, document)
    assert {each["assessment"] for each in answer["carried"]} == {first["id"]}
    assert {"work", "shoe.thickness", "observations.nails.0.exit_height"} <= {
        each["field"] for each in answer["carried"]
    }
    record = store.record(answer["id"])
    assert record is not None
    assert json.loads(record.received) == document
    assert list(verify(store)) == []
    tried = post(own, document, "?keep=false").json()
    assert {key: tried[key] for key in ("carried", "decision", "conforms")} == {
        key: answer[key] for key in ("carried", "decision", "conforms")
    }
    assert store.head().number == 2


@pytest.mark.parametrize("query", ["", "?keep=false"])
@pytest.mark.parametrize(
    ("change", "kind", "field"),
    [
        ({"follows": "0"}, "unknown-follows", "follows"),
        ({"foot": "right_fore"}, "follows-another", "foot"),
        ({"horse": {"id": "another"}}, "follows-another", "horse.id"),
        ({"stage": "hot_fit", "observations": {}}, "follows-later-stage", "stage"),
        ({"follows": None}, "bad-input", "work"),
        ({"follows": 7}, "bad-input", "follows"),
        ({"follows": "\n"}, "unknown-follows", "follows"),
        ({"work": "ploughing"}, "bad-input", "work"),
    ],
)
def test_what_stands_against_following_is_a_problem(
    query: str, change: dict[str, Any], kind: str, field: str, own: Ask, problem: CheckProblem, nailed: dict[str, Any]
) -> None:
    first = kept(own, nailed)
    errors = problem(post(own, finished(first["id"]) | change, query), kind)
    assert field in {each["field"] for each in errors}


def test_what_was_erased_corrected_or_is_to_be_corrected_is_not_followed(
    own: Ask, store: Store, problem: CheckProblem, nailed: dict[str, Any]
) -> None:
    first = kept(own, nailed)
    corrected = kept(own, nailed, f"?corrects={first['id']}")
    [told] = problem(post(own, finished(first["id"])), "unknown-follows")
    assert corrected["id"] in told["detail"]
    fields = problem(post(own, finished(corrected["id"]), f"?corrects={corrected['id']}"), "follows-and-corrects")
    assert [each["field"] for each in fields] == ["follows", "query.corrects"]
    store.erase("A-1", reason="asked for", created="2026-12-01T10:00:00.000Z")
    [told] = problem(post(own, finished(corrected["id"])), "unknown-follows")
    assert "erased" in told["detail"]


def test_a_key_written_with_escapes_is_the_same(own: Ask, nailed: dict[str, Any]) -> None:
    first = kept(own, nailed)
    body = json.dumps(finished(first["id"])).replace('"follows"', '"\\u0066ollows"').encode()
    answer = own("POST", "/v1/assessments?keep=false", content=body, headers=JSON)
    assert answer.status_code == 200
    assert answer.json()["carried"]


@pytest.mark.parametrize("keep", ["true", "false"])
def test_a_line_of_a_batch_may_follow_too(keep: str, own: Ask, nailed: dict[str, Any]) -> None:
    first = kept(own, nailed)
    lines = [finished(first["id"]), finished("none"), {"key": "k", "fitting": finished(first["id"])}]
    answer = own(
        "POST",
        f"/v1/assessments/batch?keep={keep}",
        content="\n".join(map(json.dumps, lines)).encode(),
        headers={"content-type": "application/x-ndjson"},
    )
    one, unknown, keyed = map(json.loads, answer.text.splitlines())
    assert one["assessment"]["carried"] == keyed["assessment"]["carried"] != []
    assert unknown["problem"]["type"].endswith("unknown-follows")


def test_a_repeated_request_is_answered_and_explained_as_it_was(own: Ask, nailed: dict[str, Any]) -> None:
    first = kept(own, nailed)
    document = finished(first["id"])
    explained = [post(own, document, "?explain=true", **{"idempotency-key": "k"}) for _ in range(2)]
    assert [answer.status_code for answer in explained] == [201, 201]
    assert explained[0].json() == explained[1].json()
    assert explained[1].headers["idempotency-replayed"] == "true"


def test_report_drawing_marks_and_visit_are_of_the_whole_foot(own: Ask, nailed: dict[str, Any]) -> None:
    first = kept(own, nailed)
    answer = kept(own, finished(first["id"], visit=nailed["visit"], horse=nailed["horse"]))
    address = f"/v1/assessments/{answer['id']}"
    english, german = (own("GET", f"{address}/report.html?lang={lang}").text for lang in ("en", "de"))
    assert "As observed before: work, hoof, shoe" in english
    assert "Wie vorher angesehen: Arbeit, Huf, Eisen" in german
    whole = own("GET", f"/v1/assessments/{first['id']}/drawing.svg").text
    drawn = own("GET", f"{address}/drawing.svg").text
    assert drawn.count("nail") > 0
    assert abs(drawn.count("<path") - whole.count("<path")) < 10
    assert own("GET", f"{address}/marks").status_code == 200
    assert own("GET", f"/v1/visits/{nailed['visit']}").json()["decision"] == answer["decision"]


def test_it_is_judged_again_as_it_was_also_when_what_it_follows_was_erased(
    own: Ask, store: Store, nailed: dict[str, Any]
) -> None:
    first = kept(own, nailed)
    answer = kept(own, finished(first["id"]))
    store.erase("A-1", reason="asked for", created="2026-12-01T10:00:00.000Z")
    wanted = RecordFilter(kind="assessment", person="A-2")
    for book in (shipped_rulebook(), first_rulebook()):
        [regraded] = Regrading(store, book, wanted).each()
        assert regraded.case is not None, regraded.problem
        assert regraded.case.before == answer["decision"]
    [same] = Regrading(store, shipped_rulebook(), wanted).each()
    assert same.case is not None
    assert (same.case.after, same.case.findings) == (answer["decision"], ())
    report = own("GET", f"/v1/assessments/{answer['id']}/report.html")
    assert report.status_code == 200
    # What was carried names nobody; only the id of the assessment is left of it.
    assert "A-1" not in json.dumps(answer["carried"])


def test_an_export_of_it_alone_is_whole(own: Ask, store: Store, nailed: dict[str, Any], tmp_path: Path) -> None:
    first = kept(own, nailed)
    answer = kept(own, finished(first["id"], external={"system": "practice", "id": "F-2"}))
    record = store.record(answer["id"])
    assert record is not None
    with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as other:
        assert list(Importer(other, shipped_rulebook).take(io.BytesIO(line_of(record)), "ndjson")) == []
        [there] = other.following(0, 9)
        assert (there.received, there.answer) == (record.received, record.answer)
        assert (there.external_system, there.external_id) == ("practice", "F-2")
        assert foot_of(there, shipped_rulebook()).fitting == foot_of(record, shipped_rulebook()).fitting
        [regraded] = Regrading(other, shipped_rulebook(), RecordFilter()).each()
        assert regraded.case is not None
        assert regraded.case.after == answer["decision"]


def test_fittings_from_a_file_follow_what_is_kept(own: Ask, store: Store, nailed: dict[str, Any]) -> None:
    first = kept(own, nailed)
    lines = b"\n".join(json.dumps(each).encode() for each in (finished(first["id"]), finished("none")))
    importer = Importer(store, shipped_rulebook, lambda id_: followed(store, id_, shipped_rulebook()))
    [bad] = importer.take(io.BytesIO(lines), "ndjson")
    assert (bad.line, bad.problem.field) == (2, "follows")
    assert importer.counts == {"assessed": 1, "bad": 1}
    taken = store.following(1, 9)[0]
    assert assessment_of(taken).carried


def test_events_name_the_second_shape_and_the_other_systems_key(own: Ask, nailed: dict[str, Any]) -> None:
    kept(own, nailed | {"external": {"system": "practice", "id": "F-1"}})
    [event] = own("GET", "/v1/events?after=0-0000000000000000").json()
    assert event["type"] == "fitcheck.assessment.kept.v2"
    assert event["data"]["record"]["external_system"] == "practice"
    assert event["data"]["record"]["external_id"] == "F-1"


def test_assessments_are_found_by_the_other_systems_key(own: Ask, store: Store, nailed: dict[str, Any]) -> None:
    keys = [("practice", "F-1"), ("practice", "F-2"), ("yard", "F-1"), None]
    for key in keys:
        kept(own, nailed if key is None else nailed | {"external": dict(zip(("system", "id"), key, strict=True))})

    def found(query: str) -> list[tuple[str | None, str | None]]:
        listed = own("GET", f"/v1/assessments?order=oldest&{query}").json()["assessments"]
        return [(each["external_system"], each["external_id"]) for each in listed]

    assert found("external_system=practice&external_id=F-1") == [keys[0]]
    assert found("external_id=F-1") == [keys[0], keys[2]]
    assert found("external_system=practice") == keys[:2]
    assert found("external_id=none") == []
    assert found("limit=4")[-1] == (None, None)
    page = own("GET", "/v1/assessments?external_system=practice&limit=1")
    assert "external_system=practice" in page.headers["link"]
    store.erase("A-1", reason="asked for", created="2026-12-01T10:00:00.000Z")
    assert found("external_system=practice") == []


@pytest.mark.parametrize(
    ("external", "field"),
    [
        ({"system": "practice"}, "external.id"),
        ({"system": "", "id": "1"}, "external.system"),
        ({"system": "a", "id": "1", "url": "x"}, "external.url"),
        ("practice:1", "external"),
    ],
)
def test_a_key_of_another_system_that_is_none_is_refused(
    external: Any, field: str, own: Ask, problem: CheckProblem, nailed: dict[str, Any]
) -> None:
    assert problem(post(own, nailed | {"external": external}), "bad-input")[0]["field"] == field
