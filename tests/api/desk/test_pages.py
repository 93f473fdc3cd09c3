"""/desk: pages that a browser shows without script, in which what was kept is text and every link leads somewhere."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import httpx
import pytest

from api.desk.tables import MOST_FEET
from fitcheck.records import Store
from tests.support.desk_records import HOSTILE, imported_into, like
from tests.support.language_texts import english_in
from tests.support.pages import Element, page_of
from tests.support.raters import gone_over, judged

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
Edit = Callable[..., dict[str, Any]]
FEET = ("left_fore", "right_fore", "left_hind", "right_hind")
PAGES = ["/desk", "/desk/marks", "/desk/progress", "/desk/agreement", "/desk/sign-in"]
BROWSER = {"accept": "text/html,application/xhtml+xml;q=0.9,*/*;q=0.8"}
ERASED = {"reason": "asked for by the person", "created": "2026-03-05T10:00:00.000Z"}


@pytest.fixture
def send(own: Ask, changed: Edit) -> Callable[..., dict[str, Any]]:
    """Has the good fitting assessed and kept, with changes; its answer."""

    def post(query: str = "", **edits: Any) -> dict[str, Any]:
        names = {"horse": {"id": "H-101"}, "visit": "v", "person": {"id": "A-7"}, "assessor": {"id": "S-1"}}
        response = own("POST", f"/v1/assessments{query}", json=changed(**(names | edits)))
        assert response.status_code == 201, response.text
        answer: dict[str, Any] = response.json()
        return answer

    return post


def page(ask: Ask, path: str, **query: str) -> Element:
    response = ask("GET", f"{path}?{urlencode(query)}" if query else path, headers=BROWSER)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "text/html; charset=utf-8"
    found = page_of(response.text)
    (style,) = found.all("style")
    digest = base64.b64encode(hashlib.sha256("".join(map(str, style.content)).encode()).digest()).decode()
    policy = [part.strip() for part in response.headers["content-security-policy"].split(";")]
    assert policy == [
        "default-src 'none'", f"style-src 'sha256-{digest}'", "base-uri 'none'", "form-action 'self'",
        "frame-ancestors 'none'",
    ]  # fmt: skip
    assert not list(found.all("script", "iframe", "object", "embed", "link", "img"))
    return found


def links(found: Element) -> list[str]:
    return [each.attributes["href"] for each in found.all("a")]


def rows(found: Element) -> list[str]:
    return [each.text for each in found.all("tr")][1:]


@pytest.mark.parametrize("path", PAGES)
def test_every_page_has_its_place_in_the_row_of_links_and_forms_with_labels(own: Ask, path: str) -> None:
    found = page(own, path)
    assert [each.attributes["href"] for each in found.all("a") if "aria-current" in each.attributes] == [path]
    labelled = {each.attributes["for"] for each in found.all("label")}
    fields = list(found.all("input", "select"))
    assert {each.attributes["id"] for each in fields} == labelled
    methods = [each.attributes["method"] for each in found.all("form")]
    assert methods == (["post", "post"] if path == "/desk/sign-in" else ["get"])
    (html,) = found.all("html")
    assert html.attributes["lang"] == "en"


def test_kept_assessments_are_listed_with_links_that_lead_somewhere(own: Ask, send: Any) -> None:
    wrong = send(observations__nails__1__exit_height=44)
    send(f"?corrects={wrong['id']}")
    found = page(own, "/desk")
    first, second = rows(found)
    assert "RELEASE" in first
    assert "Corrected since: no longer counts." in second
    assert "H-101" in first
    for link in links(found):
        assert own("GET", link, headers=BROWSER).status_code == 200, link


def test_the_list_goes_on_page_by_page_with_its_filters(own: Ask, store: Store) -> None:
    store.keep_many([judged("good", f"a-{n}", person="A-7", visit=f"v-{n}") for n in range(60)])
    store.keep_many([judged("good", "other", person="A-8")])
    seen: list[str] = []
    address = "/desk?person=A-7&visit=&horse=+&order=oldest"
    while address:
        found = page_of(own("GET", address).text)
        seen += [row.split("visit")[0] for row in links(found) if row.startswith("/desk/sheet")]
        address = next((each.attributes["href"] for each in found.all("a") if each.attributes.get("rel") == "next"), "")
    assert seen == [f"/desk/sheet?assessment=a-{n}" for n in range(60)]


def test_a_form_keeps_what_was_asked_for(own: Ask) -> None:
    found = page(own, "/desk", person='A"7', foot="left_hind", **{"from": "2026-03-04"})
    values = {each.attributes["name"]: each.attributes["value"] for each in found.all("input")}
    assert (values["person"], values["from"], values["horse"]) == ('A"7', "2026-03-04", "")
    chosen = [each.attributes["value"] for each in found.all("option") if "selected" in each.attributes]
    assert chosen == ["left_hind"]


def test_twenty_feet_of_one_day_are_one_sheet(own: Ask, send: Any) -> None:
    for horse in range(5):
        for foot in FEET:
            edits: dict[str, Any] = {"observations__nails__1__exit_height": 44} if foot == "left_fore" else {}
            if foot.endswith("hind"):
                edits["observations__heel_fit__medial__width"] = 1  # the hind inner branch follows the wall
            send(foot=foot, horse={"id": f"H-{horse}"}, visit=f"v-{horse}", **edits)
    send(foot="left_fore", horse={"id": "H-0"}, visit="v-0")
    send(person={"id": "A-8"}, visit="elsewhere")
    found = page(own, "/desk/marks", person="A-7")
    table = rows(found)
    assert len(table) == 20
    assert sum("85 of 85" in row for row in table) == 16
    assert "Marks of 20 feet" in found.text
    heads = [each.text for each in next(found.all("thead")).all("th")]
    assert heads[:4] == ["Foot", "Fitted by", "Dressing", "Heel fit"]


def test_a_visit_alone_is_summed_up_and_one_in_conflict_is_not(own: Ask, send: Any, store: Store) -> None:
    send(foot="left_fore")
    send(foot="right_fore")
    assert "The visit as a whole" in page(own, "/desk/marks", visit="v").text
    assert "The visit as a whole" not in page(own, "/desk/marks", visit="v", horse="H-101").text
    other = send(foot="left_hind", horse={"id": "H-102"}, visit="another")
    imported_into(store, "v", other["id"])
    conflict = page(own, "/desk/marks", visit="v")
    assert len(rows(conflict)) == 3
    assert "The visit as a whole" not in conflict.text


def test_more_feet_than_a_sheet_holds_are_told(own: Ask, store: Store) -> None:
    store.keep_many([judged("good", f"a-{n}", person="A-7", visit=f"v-{n}") for n in range(MOST_FEET + 1)])
    found = page(own, "/desk/marks", person="A-7")
    assert len(rows(found)) == MOST_FEET
    assert f"These are the newest {MOST_FEET} feet." in found.text


def test_feet_that_cannot_be_marked_stand_in_the_sheet_and_say_so(own: Ask, send: Any, store: Store) -> None:
    sent = send(observations__nails__1__exit_height=44)
    (record,) = store.following(0, 1)
    odd = json.loads(record.answer) | {"id": "odd"}
    odd["findings"][0]["criterion"] = "own_thing"
    store.keep_many(
        [
            like(record, id="odd", visit="w", answer=json.dumps(odd).encode()),
            like(record, id="no", visit="x", answer=b"no"),
        ]
    )
    gone_over(store, sent["id"], {"what": "strike", "finding": sent["findings"][0]["id"]}, by="S-2")
    table = rows(page(own, "/desk/marks", person="A-7"))
    assert "Cannot be read by this version." in table[0]
    assert "Cannot be marked" in table[1]
    assert table[2].count(" of 85") == 2


def test_a_sheet_tells_every_reason_and_an_assessors_beside_the_tools(own: Ask, send: Any, store: Store) -> None:
    sent = send(observations__nails__1__exit_height=44)
    plain = page(own, "/desk/sheet", assessment=sent["id"])
    assert [each.text for each in plain.all("h2")] == ["Marks, as the tool has it"]
    gone_over(store, sent["id"], {"what": "strike", "finding": sent["findings"][0]["id"], "reason": "38 mm."}, by="S-2")
    found = page(own, "/desk/sheet", assessment=sent["id"])
    assert next(found.all("h2")).text == "Marks, as assessors have it"
    assert "38 mm." in found.text
    assert sent["findings"][0]["id"] in found.text


def test_progress_has_plots_in_the_page_and_a_row_for_each_foot(own: Ask, send: Any) -> None:
    send(foot="left_fore", observations__nails__1__exit_height=44)
    send(foot="right_fore")
    found = page(own, "/desk/progress", person="A-7", to="")
    assert len(list(found.all("svg"))) == 2
    assert "Practise nails next" in found.text
    for link in links(found):
        assert own("GET", link, headers=BROWSER).status_code == 200


def test_agreement_leads_to_the_feet_in_dispute(own: Ask, store: Store) -> None:
    store.keep_many([judged("good", "a", assessor="S-1"), judged("major", "b", assessor="S-2")])
    found = page(own, "/desk/agreement", first="S-1", second="S-2")
    assert "S-1 and S-2 both judged 1 foot." in found.text
    assert {"/desk/sheet?assessment=a", "/desk/sheet?assessment=b"} <= set(links(found))
    nowhere = page(own, "/desk/agreement", first="S-1", second="S-9")
    assert "Nowhere, on the feet that both judged." in nowhere.text


@pytest.mark.parametrize(
    ("path", "kind", "told"),
    [
        ("/desk?limit=0", "bad-query", "query.limit"),
        ("/desk?foot=left", "bad-query", "query.foot"),
        ("/desk/marks?from=x", "bad-query", "query.from"),
        ("/desk/marks?x=1", "bad-query", "query.x"),
        ("/desk/sheet", "bad-query", "query.assessment"),
        ("/desk/sheet?assessment=x", "not-found", "path.id"),
        ("/desk/progress?person=x", "not-found", "path.person"),
        ("/desk/agreement?first=x", "bad-query", "query.second"),
        ("/desk/agreement?first=x&second=x", "bad-query", "query.second"),
        ("/desk/nothing", "not-found", ""),
        ("/desk/sheet?assessment=%3Cscript%3Ealert(1)%3C/script%3E", "not-found", "path.id"),
    ],
)
def test_what_goes_wrong_is_a_page_for_a_browser_and_a_problem_for_programs(
    own: Ask, problem: CheckProblem, path: str, kind: str, told: str
) -> None:
    errors = problem(own("GET", path), kind)
    assert told in {"", *(error["field"] for error in errors)}
    response = own("GET", path, headers=BROWSER)
    assert response.headers["content-type"] == "text/html; charset=utf-8"
    assert response.headers["content-security-policy"].startswith("default-src 'none'; style-src 'sha256-")
    found = page_of(response.text)
    assert told in found.text
    assert not list(found.all("script"))
    elsewhere = own("GET", path.replace("/desk", "/v1/x"), headers=BROWSER)
    assert elsewhere.headers["content-type"] == "application/problem+json"


def test_what_was_erased_is_listed_as_such_and_has_no_sheet(
    own: Ask, send: Any, store: Store, problem: CheckProblem
) -> None:
    sent = send()
    store.erase("A-7", **ERASED)
    assert "Erased on a person's demand." in page(own, "/desk").text
    problem(own("GET", f"/desk/sheet?assessment={sent['id']}"), "gone")
    assert "Nothing of the kind was kept." in page(own, "/desk/marks", visit="v").text


def test_hostile_names_are_text_on_every_page(own: Ask, send: Any, store: Store) -> None:
    name = HOSTILE[:64]
    sent = send(horse={"id": name}, visit=name, observations__nails__1__exit_height=44)
    (record,) = store.following(0, 1)
    store.keep_many([like(record, id=name.replace("/", ""), person=name, assessor=name)])
    changes = [{"what": "strike", "finding": each["id"], "reason": HOSTILE} for each in sent["findings"]]
    gone_over(store, sent["id"], *changes, by="S-2")
    for path, query in (
        ("/desk", {}),
        ("/desk/marks", {"visit": name}),
        ("/desk/sheet", {"assessment": sent["id"]}),
        ("/desk/progress", {"person": name}),
        ("/desk/agreement", {"first": name, "second": "tool"}),
        ("/desk/agreement", {"first": "S-1", "second": "S-2"}),
    ):
        found = page(own, path, **query)
        assert "<script>" in found.text
        assert all(link.startswith(("/", "#")) for link in links(found))
        html = own("GET", f"{path}?{urlencode(query)}").text
        assert "\u202e" not in html
        assert "<script" not in html.replace("&lt;script", "")
    for link in links(page(own, "/desk")):
        assert own("GET", link, headers=BROWSER).status_code == 200, link


def test_a_desk_in_german_has_no_english_label(own: Ask, send: Any, store: Store) -> None:
    names: dict[str, Any] = {"notes": None, "person": {"id": "A-7"}}
    sent = send("?lang=de", observations__nails__1__exit_height=44, **names)
    send("?lang=de", foot="right_fore", observations__heel_fit__medial__length=22, **names)
    send("?lang=de", foot="left_hind", observations__soundness=None, **names)
    gone_over(
        store, sent["id"], {"what": "strike", "finding": sent["findings"][0]["id"], "reason": "Vertan."}, by="S-2"
    )
    store.keep_many([judged("good", "a", assessor="S-3", visit="w"), judged("major", "b", assessor="S-4", visit="w")])
    for path in (
        *PAGES,
        "/desk/marks?visit=v",
        "/desk/progress?person=A-7",
        "/desk/agreement?first=S-3&second=S-4",
        "/desk/agreement?first=S-3&second=S-9",
        f"/desk/sheet?assessment={sent['id']}",
    ):
        address = f"{path}{'&' if '?' in path else '?'}lang=de"
        found = page(own, address)
        assert english_in(found) == set(), path
        assert next(found.all("html")).attributes["lang"] == "de"


def test_english_is_found_at_a_desk_where_there_is_some(own: Ask, send: Any) -> None:
    send()
    assert {"Assessments", "Look closer"} <= english_in(page(own, "/desk"))


def test_a_desk_speaks_the_language_of_the_browser_and_its_links_that_of_the_address(own: Ask, send: Any) -> None:
    send()
    german = own("GET", "/desk", headers=BROWSER | {"accept-language": "de-AT,en;q=0.5"})
    assert (german.headers["content-language"], german.headers["vary"]) == ("de", "accept-language")
    assert "Aufbewahrte Beurteilungen" in german.text
    assert all("lang=" not in link for link in links(page_of(german.text)))
    found = page(own, "/desk", lang="de", person="A-7")
    assert all("lang=de" in link for link in links(found) if "drawing" not in link)
    hidden = [each.attributes["value"] for each in found.all("input") if each.attributes.get("type") == "hidden"]
    assert hidden == ["de"]
    refused = own("GET", "/desk?lang=nl", headers=BROWSER)
    assert (refused.status_code, "query.lang" in refused.text) == (400, True)
