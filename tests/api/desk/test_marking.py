"""Feet marked at the desk by hand and blind: what the page shows before and after, what is kept, and who may."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any, Final
from urllib.parse import urlsplit

import pytest

from api.desk.forms import Links
from api.desk.marked_foot import GRADE_KEYS, REASONS
from api.desk.writing import PAGE_TOKEN
from fitcheck.records import Store
from fitcheck.records.sessions import IDLE, LONGEST
from fitcheck.records.tables import desk_sessions
from fitcheck.vocabulary import utc
from tests.api.desk.conftest import DAY, PROUD
from tests.support.desk_records import HOSTILE
from tests.support.language_texts import english_in
from tests.support.pages import page_of
from tests.support.signed_in import HERE, Desk, by_hand, graded, id_in

CheckProblem = Callable[..., list[dict[str, Any]]]
Edit = Callable[..., dict[str, Any]]
QUEUE: Final = f"/desk/queue?from={DAY}&to={DAY}"


def test_before_he_has_marked_it_an_assessor_sees_what_was_observed_and_nothing_of_what_the_tool_or_anybody_says(
    yard: Any, send: Any
) -> None:
    path = send(**PROUD, notes="Stood well for the lateral heel.")
    first, second = Desk(yard), Desk(yard, "S-2")
    compared = first.mark(path, "Mind the nail.", nails="critical")
    answer = first.get(f"/v1/assessments/{id_in(path)}").json()
    assert "PUT RIGHT" in compared.text
    shown = second.get(path).text
    text = page_of(shown).text
    for finding in answer["findings"]:
        assert finding["finding"] not in shown
        assert finding["id"] not in shown
    for told in ("PUT RIGHT", "major:", "Mind the nail.", "S-1", answer["actions"][0]):
        assert told not in shown
    assert "44 mm" in text
    # Nor the limits, by which a reading is soon judged: 1 5/8 in is the highest that a nail may come out.
    assert "to 41.3" not in shown
    assert "to 41.3" in first.get(f"/v1/assessments/{id_in(path)}/drawing.svg").text
    assert "Stood well for the lateral heel." in text
    assert "<svg" in shown
    queue = second.page(QUEUE).text
    assert "H-101" in queue
    assert "PUT RIGHT" not in queue.upper()


def test_marks_and_comment_are_kept_and_reasons_as_an_override_in_the_assessors_name(yard: Any, send: Any) -> None:
    path = send(**PROUD)
    desk = Desk(yard)
    compared = desk.mark(path, " Mind the nail. ", nails="minor", finish="unseen")
    [kept] = by_hand(desk, path)
    assert (kept["assessor"], kept["blind"], kept["comment"], kept["mark"]) == (
        {"id": "S-1"},
        True,
        "Mind the nail.",
        None,
    )
    grades = {each["criterion"]: each["grade"] for each in kept["criteria"]}
    assert (grades["nails"], grades["finish"], grades["heel_fit"]) == ("minor", None, "good")
    assert [each.text for each in compared.all("legend")] == ["Nails"]
    sent = desk.post(compared, {"reason.nails": "milder"})
    assert (sent.status_code, urlsplit(sent.headers["location"]).path) == (303, "/desk/queue")
    [override] = desk.get(f"/v1/assessments/{id_in(path)}/overrides").json()["overrides"]
    [change] = override["changes"]
    assert (override["assessor"], change["what"], change["mark"]) == ({"id": "S-1"}, "set_mark", 16.2)
    assert change["reason"] == "It does no harm on this foot."
    assert "It does no harm on this foot." in desk.page(path).text


def test_the_tools_mark_may_stand_and_a_reason_may_be_in_ones_own_words(
    yard: Any, send: Any, problem: CheckProblem
) -> None:
    path = send(**PROUD)
    for person, fields, kept in (
        ("S-1", {"reason.nails": "tool"}, []),
        ("S-2", {"reason.nails": "own", "own.nails": "It is 24; the rule slipped."}, ["It is 24; the rule slipped."]),
    ):
        desk = Desk(yard, person)
        compared = desk.mark(path)
        for wrong in ({}, {"reason.nails": "own"}, {"reason.nails": "own", "own.nails": "  "}, {"reason.nails": "x"}):
            problem(desk.post(compared, wrong), "bad-form")
        assert desk.post(compared, fields).status_code == 303
        overrides = desk.get(f"/v1/assessments/{id_in(path)}/overrides").json()["overrides"]
        assert [change["reason"] for each in overrides for change in each["changes"]] == kept


def test_the_queue_leads_from_foot_to_foot_round_each_horse_and_past_what_is_skipped(yard: Any, send: Any) -> None:
    paths = {foot: send(foot=foot) for foot in ("right_fore", "left_fore")}
    paths["other"] = send(horse={"id": "H-100"}, visit="w")
    desk = Desk(yard)
    queue = desk.page(QUEUE)
    assert [row.text.split(" H-")[0] for row in queue.all("tr")][1:] == ["Left fore, finished"] * 2 + [
        "Right fore, finished"
    ]
    [begin] = [each.attributes["href"] for each in queue.all("a") if each.attributes.get("id") == "begin"]
    assert id_in(begin) == id_in(paths["other"])
    [skip] = [each.attributes["href"] for each in desk.page(begin).all("a") if each.attributes.get("id") == "skip"]
    assert id_in(skip) == id_in(paths["left_fore"])
    sent = desk.post(desk.mark(skip), {})
    assert id_in(sent.headers["location"]) == id_in(paths["right_fore"])
    sent = desk.post(desk.mark(sent.headers["location"]), {})
    assert id_in(sent.headers["location"]) == id_in(paths["other"])
    sent = desk.post(desk.mark(sent.headers["location"]), {})
    assert urlsplit(sent.headers["location"]).path == "/desk/queue"
    assert "No foot waits for the marks of S-1. 3 are marked." in desk.page(sent.headers["location"]).text


def test_the_queue_is_of_the_day_of_the_fitting_today_without_one_and_may_be_narrowed_down(
    yard: Any, send: Any
) -> None:
    send(observations__history={"fitted": "2026-03-04"})
    today = datetime.now(UTC).date().isoformat()
    send(horse={"id": "H-102"}, visit="w", person={"id": "A-8"}, observations__history={"fitted": today})
    desk = Desk(yard)
    for query, there in (
        ("", ["H-102"]),
        (f"?from={DAY}&to={DAY}", ["H-101"]),
        (f"?from={DAY}", ["H-101", "H-102"]),
        (f"?from={DAY}&person=A-8", ["H-102"]),
        (f"?from={DAY}&visit=v&horse=", ["H-101"]),
        (f"?from={DAY}&horse=H-103", []),
    ):
        rows = [[cell.text for cell in row.all("td")] for row in desk.page(f"/desk/queue{query}").all("tr")][1:]
        assert [row[0] for row in rows] == there, query


def test_feet_that_he_assessed_himself_do_not_wait_and_marks_of_them_are_not_blind(yard: Any, send: Any) -> None:
    path = send(assessor={"id": "S-1"})
    desk = Desk(yard)
    assert "1 foot that you assessed yourself is left out" in desk.page(QUEUE).text
    assert "not blind" in desk.page(path).text
    desk.mark(path)
    assert [each["blind"] for each in by_hand(desk, path)] == [False]


def test_a_form_that_comes_again_keeps_nothing_twice(yard: Any, send: Any) -> None:
    path = send(**PROUD)
    desk = Desk(yard)
    page = desk.page(path)
    places = {desk.post(page, graded(page, nails="minor")).headers["location"] for _ in range(2)}
    assert len(places) == 1
    [kept] = by_hand(desk, path)
    assert "minor" in {each["grade"] for each in kept["criteria"]}
    compared = desk.page(path)
    for reason in REASONS:
        assert desk.post(compared, {"reason.nails": reason}).status_code == 303
    assert len(desk.get(f"/v1/assessments/{id_in(path)}/overrides").json()["overrides"]) == 1


@pytest.mark.parametrize(
    "spoil",
    [
        lambda fields: {name: grade for name, grade in fields.items() if name != "grade.nails"},
        lambda fields: fields | {"grade.nails": "fine"},
        lambda fields: fields | {"grade.going": "good"},
        lambda fields: fields | {"comment": "x" * 501},
        lambda _: {},
    ],
)
def test_a_form_that_is_not_wholly_or_well_filled_in_keeps_nothing(
    yard: Any, send: Any, problem: CheckProblem, spoil: Any
) -> None:
    path = send()
    desk = Desk(yard)
    page = desk.page(path)
    problem(desk.post(page, spoil(graded(page))), "bad-form")
    assert by_hand(desk, path) == []


def test_nobody_marks_without_the_scope_without_a_persons_key_or_from_elsewhere(
    yard: Any, send: Any, problem: CheckProblem
) -> None:
    path = send()
    desk = Desk(yard)
    page = desk.page(path)
    fields = graded(page)
    problem(Desk(yard, "S-2", "read").get(path, 403), "forbidden")
    problem(yard.ask("GET", path, headers=yard.bearer("mark", person="S-3")), "forbidden")
    problem(yard.ask("GET", path, headers=yard.bearer("admin")), "not-in-own-name")
    problem(desk.get(f"{path}&by=S-9", 200) and desk.post(page, fields | {PAGE_TOKEN: "0" * 64}), "not-from-this-page")
    for headers in ({"origin": "http://elsewhere.test"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"}):
        problem(desk.post(page, fields, **headers), "cross-origin")
    other = Desk(yard, "S-2")
    problem(other.post(page, fields), "not-from-this-page")
    assert by_hand(desk, path) == []
    # The name in the address counts for nothing where there are keys.
    assert desk.mark(f"{path}&by=S-9")
    assert [each["assessor"]["id"] for each in by_hand(desk, path)] == ["S-1"]


def test_a_session_of_somebody_elses_making_is_never_the_one_that_marks(
    yard: Any, send: Any, problem: CheckProblem
) -> None:
    """Session fixation: the one that was put into the browser ends as he signs in, with its pages' tokens."""
    path = send()
    planted = Desk(yard, "S-9")
    page = planted.page(path)
    header = yard.bearer("read", "mark", person="S-1")
    data = {"key": header["authorization"][7:]}
    response = yard.ask("POST", "/desk/sign-in", data=data, headers=HERE | planted.cookie)
    assert planted.cookie["cookie"] not in response.headers["set-cookie"]
    problem(planted.post(page, graded(page)), "unauthorized")


@pytest.mark.parametrize(("column", "age"), [("last_seen", IDLE), ("created", LONGEST)])
def test_a_session_that_is_over_keeps_nothing(
    yard: Any, send: Any, problem: CheckProblem, column: str, age: timedelta
) -> None:
    path = send()
    desk = Desk(yard)
    page = desk.page(path)
    over = utc(datetime.now(UTC) - age - timedelta(seconds=1))
    with yard.store._engine.begin() as connection:
        connection.execute(desk_sessions.update().values({column: over}))
    problem(desk.post(page, graded(page)), "unauthorized")
    told = page_of(desk.post(page, graded(page), accept="text/html").text)
    # Back to the foot, where the browser still has what was not kept.
    assert Links(None).page("sign_in", back=path) in [each.attributes["href"] for each in told.all("a")]


def test_a_key_that_is_revoked_or_a_session_that_is_ended_keeps_nothing(
    yard: Any, send: Any, problem: CheckProblem
) -> None:
    path = send()
    desk = Desk(yard)
    page = desk.page(path)
    assert yard.ask("POST", "/desk/sign-out", headers=HERE | desk.cookie).status_code == 303
    problem(desk.post(page, graded(page)), "unauthorized")
    desk = Desk(yard, "S-2")
    page = desk.page(path)
    yard.keys.revoke(desk.key)
    problem(desk.post(page, graded(page)), "unauthorized")


def test_without_keys_this_machine_marks_in_the_name_that_it_says(own: Any, changed: Edit) -> None:
    sent = own("POST", "/v1/assessments", json=changed(horse={"id": "H-1"}, visit="v")).json()
    assert "Say by your id who marks." in page_of(own("GET", QUEUE).text).text
    path = f"/desk/foot?assessment={sent['id']}&from={DAY}&to={DAY}&by=S-1"
    page = page_of(own("GET", path).text)
    answer = own(
        "POST", path.replace("/desk/foot", "/desk/by-hand"), data=graded(page) | {PAGE_TOKEN: ""}, headers=HERE
    )
    assert answer.status_code == 303
    [kept] = own("GET", f"/v1/assessments/{sent['id']}/hand-marks").json()["hand_marks"]
    assert kept["assessor"] == {"id": "S-1"}


def test_what_was_sent_is_text_on_these_pages(yard: Any, send: Any) -> None:
    path = send(notes=HOSTILE.replace("\u202e", ""))
    desk = Desk(yard)
    for page in (desk.page(path), desk.mark(path, HOSTILE.replace("\u202e", ""))):
        assert len(list(page.all("script"))) == 1
        assert not list(page.all("img"))
        assert "<script>alert('1')</script>" in page.text


def test_the_policy_allows_just_the_pages_own_script_and_styles(yard: Any, send: Any) -> None:
    shown = Desk(yard).get(send())
    policy = dict(part.strip().partition(" ")[::2] for part in shown.headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["form-action"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["script-src"].count("'sha256-") == 1
    assert "unsafe" not in shown.headers["content-security-policy"]


def test_the_pages_speak_german_throughout(yard: Any, send: Any) -> None:
    path = send("?lang=de", **PROUD, notes="Stand gut.")
    desk = Desk(yard)
    pages = [desk.page(f"{QUEUE}&lang=de"), desk.page(f"{path}&lang=de")]
    desk.mark(path, nails="minor")
    pages.append(desk.page(f"{path}&lang=de"))
    for page in pages:
        assert english_in(page) == set(), page.text
    assert "Benoten: " in pages[1].text


def test_each_grade_has_a_key_of_its_own(yard: Any, send: Any) -> None:
    page = Desk(yard).page(send())
    radios = [each.attributes for each in page.all("input") if each.attributes["name"] == "grade.nails"]
    assert {each["value"]: each["data-key"] for each in radios} == GRADE_KEYS
    assert len(set(GRADE_KEYS.values())) == len(GRADE_KEYS)


def test_a_days_marks_make_a_sheet_of_what_to_practise_what_lost_most_first(yard: Any, send: Any) -> None:
    desk = Desk(yard)
    paths = [send(foot=foot) for foot in ("left_fore", "right_fore")]
    desk.mark(paths[0], "Dress heels.", nails="major", finish="minor")
    desk.mark(paths[1], nails="minor")
    Desk(yard, "S-2").mark(paths[1])
    [link] = [
        each.attributes["href"]
        for each in desk.page(QUEUE).all("a")
        if "/desk/practice?person" in each.attributes["href"]
    ]
    shown = desk.page(link)
    assert [each.text for each in shown.all("h2")] == ["Nails", "Finish", "Comments"]
    assert "3 feet were marked by hand" in shown.text
    assert "First: Nails." in shown.text
    # Of 3 x 18 marks 9 and 1.8 are lost: 20 %.
    assert "Not good in 2 of 3; 20 % of its marks lost." in shown.text
    assert "H-101, left fore, 2026-03-04, S-1: Dress heels." in " ".join(
        shown.text.replace(" ,", ",").replace(" :", ":").split()
    )
    assert len(list(shown.all("svg"))) == 1
    [description] = shown.all("desc")
    assert "Nails: 20 % of its marks lost." in description.text
    assert "Nobody marked" in desk.page("/desk/practice?person=A-9").text
    assert english_in(desk.page(f"{link}&lang=de")) == set()


def test_what_is_erased_while_it_is_marked_is_gone(
    yard: Any, send: Any, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = send()
    desk = Desk(yard)
    page = desk.page(path)
    before = Store.keep

    def keep(store: Store, *what: Any) -> Any:
        store.erase("A-7", reason="asked on paper", created="2026-03-05T10:00:00.000Z")
        return before(store, *what)

    monkeypatch.setattr(Store, "keep", keep)
    problem(desk.post(page, graded(page)), "gone")
    monkeypatch.undo()
    problem(desk.post(page, graded(page)), "gone")
