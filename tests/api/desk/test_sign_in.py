"""Signing in at the desk: a session that reads, that no other site can use, and that ends."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

import httpx
import pytest
import sqlalchemy as sa

from fitcheck.records import Store, StoreFull, StoreUnavailable
from fitcheck.records.sessions import IDLE, LONGEST
from fitcheck.records.tables import desk_sessions
from fitcheck.vocabulary import utc
from tests.support.databases import looks_into_the_file
from tests.support.pages import page_of
from tests.support.signed_in import HERE

CheckProblem = Callable[..., list[dict[str, Any]]]
BROWSER = {"accept": "text/html"}
FORM = {"content-type": "application/x-www-form-urlencoded"}


@pytest.fixture(autouse=True)
def nothing_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    """What ends is seen at once, not within the seconds for which a process remembers keys."""
    monkeypatch.setattr("api.http.key_cache.REMEMBERED_S", 0.0)


def sign_in(yard: Any, key: str, **headers: str) -> httpx.Response:
    response: httpx.Response = yard.ask("POST", "/desk/sign-in", data={"key": key}, headers=HERE | headers)
    return response


def token(yard: Any, *scopes: str) -> str:
    return str(yard.bearer(*scopes)["authorization"].removeprefix("Bearer "))


def cookie(response: httpx.Response) -> dict[str, str]:
    """What a browser would send back."""
    (pair,) = SimpleCookie(response.headers["set-cookie"]).items()
    return {"cookie": f"theme=dark; {pair[0]}={pair[1].value}"}


def test_without_a_key_a_browser_is_led_to_sign_in_and_programs_are_told(yard: Any, problem: CheckProblem) -> None:
    for path in ("/desk", "/desk/marks", "/desk/agreement", "/desk/sheet?assessment=x"):
        problem(yard.ask("GET", path), "unauthorized")
        response = yard.ask("GET", path, headers=BROWSER)
        assert response.status_code == 401
        assert "www-authenticate" in response.headers
        links = [each.attributes["href"] for each in page_of(response.text).all("a")]
        assert "/desk/sign-in" in links
    assert yard.ask("GET", "/desk/sign-in", headers=BROWSER).status_code == 200


def test_a_key_that_was_signed_in_with_opens_the_desk_and_what_it_links_to(yard: Any, good: dict[str, Any]) -> None:
    sent = yard.ask("POST", "/v1/assessments", json=good, headers=yard.bearer("assess")).json()
    response = sign_in(yard, f" {token(yard, 'read')} ")
    assert (response.status_code, response.headers["location"]) == (303, "/desk")
    headers = BROWSER | cookie(response)
    shown = yard.ask("GET", "/desk", headers=headers)
    assert shown.status_code == 200
    for link in [each.attributes["href"] for each in page_of(shown.text).all("a")]:
        assert yard.ask("GET", link, headers=headers).status_code == 200, link
    assert yard.ask("HEAD", f"/v1/assessments/{sent['id']}", headers=headers).status_code == 200


@pytest.mark.parametrize("page", ["/desk/marks?horse=H+1%26x&lang=de", "/desk/sheet?assessment=x", "/desk"])
def test_who_has_to_sign_in_for_a_page_is_led_back_to_it(yard: Any, page: str) -> None:
    refused = page_of(yard.ask("GET", page, headers=BROWSER).text)
    [link] = {href for each in refused.all("a") if "back=" in (href := each.attributes["href"])}
    form = next(each for each in page_of(yard.ask("GET", link, headers=BROWSER).text).all("form"))
    wrong = yard.ask("POST", form.attributes["action"], data={"key": "x"}, headers=HERE)
    again = next(each for each in page_of(wrong.text).all("form")).attributes["action"]
    response = yard.ask("POST", again, data={"key": token(yard, "read")}, headers=HERE)
    assert (response.status_code, response.headers["location"]) == (303, page)


@pytest.mark.parametrize(
    "address",
    [
        "//elsewhere.test/desk",
        "https://elsewhere.test/desk",
        "/\\elsewhere.test",
        "/desk/../v1/assessments",
        "/desk/reasons?assessment=x",
        "/desk/by-hand",
        "/desk/sign-in?back=/desk",
        "/desk\r\nset-cookie: a=b",
        "javascript:alert(1)",
        "/desk?" + "x" * 3000,
        "",
    ],
)
def test_signing_in_leads_nowhere_but_to_a_page_of_the_desk(yard: Any, problem: CheckProblem, address: str) -> None:
    for method, more in (("GET", {}), ("POST", {"data": {"key": token(yard, "read")}, "headers": HERE})):
        response = yard.ask(method, "/desk/sign-in", params={"back": address}, **more)
        [error] = problem(response, "bad-query")
        assert error["field"] == "query.back"
        assert "set-cookie" not in response.headers


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(
    yard: Any, yard_with: Callable[..., Any], tmp_path: Path
) -> None:
    parts = {part.strip() for part in sign_in(yard, token(yard, "read")).headers["set-cookie"].split(";")[1:]}
    assert parts == {"Path=/", "HttpOnly", "SameSite=Strict"}
    (folder := tmp_path / "tls").mkdir()
    behind = yard_with(folder, behind_tls=True)
    response = sign_in(behind, token(behind, "read"), origin="https://low-meadow.test")
    name, *more = response.headers["set-cookie"].split(";")
    assert name.startswith("__Host-")
    assert {part.strip() for part in more} == {"Path=/", "HttpOnly", "SameSite=Strict", "Secure"}
    assert behind.ask("GET", "/desk", headers=cookie(response)).status_code == 200
    behind.store.close()


def test_the_cookie_changes_nothing(yard: Any, good: dict[str, Any], problem: CheckProblem) -> None:
    headers = cookie(sign_in(yard, token(yard, "admin")))
    sent = yard.ask("POST", "/v1/assessments", json=good, headers=yard.bearer("assess")).json()
    for path in ("/v1/assessments", "/v1/assessments?keep=false", f"/v1/assessments/{sent['id']}/overrides"):
        [error] = problem(yard.ask("POST", path, json=good, headers=headers), "unauthorized")
        assert error["field"] == "header.authorization"
    problem(yard.ask("POST", "/v1/assessments/batch", content="{}", headers=headers), "unauthorized")


def test_the_header_counts_before_the_cookie(yard: Any, problem: CheckProblem) -> None:
    good = cookie(sign_in(yard, token(yard, "read")))
    problem(yard.ask("GET", "/v1/rulebook", headers=good | {"authorization": "Bearer x"}), "unauthorized")
    assert (
        yard.ask("GET", "/v1/rulebook", headers=yard.bearer("read") | {"cookie": "fitcheck-session=x"}).status_code
        == 200
    )


@looks_into_the_file
def test_the_cookie_is_not_the_key_and_of_it_only_a_digest_is_kept(yard: Any, tmp_path: Path) -> None:
    key = token(yard, "read")
    first, second = sign_in(yard, key), sign_in(yard, key)
    values = {cookie(each)["cookie"].rpartition("=")[2] for each in (first, second)}
    assert len(values) == 2
    lying = b"".join(path.read_bytes() for path in tmp_path.rglob("records*") if path.is_file())
    for value in values:
        # At least 32 random bytes, six bits a character.
        assert len(value) * 6 >= 32 * 8
        assert value not in key
        assert value.encode() not in lying
        assert hashlib.sha256(value.encode()).hexdigest().encode() in lying
    # Nor does the cookie open anything as a key, or the key as a cookie.
    assert yard.ask("GET", "/desk", headers={"authorization": f"Bearer {values.pop()}"}).status_code == 401
    for name in ("fitcheck-session", "fitcheck-key"):
        assert yard.ask("GET", "/desk", headers={"cookie": f"{name}={key}"}).status_code == 401


def test_a_session_is_never_the_one_that_the_browser_shows_as_it_signs_in(yard: Any) -> None:
    """Session fixation: somebody else put a session of theirs, or of their invention, into the browser."""
    key = token(yard, "read")
    theirs = cookie(sign_in(yard, key))
    for shown in (theirs, {"cookie": "fitcheck-session=" + "A" * 43}):
        mine = cookie(sign_in(yard, key, **shown))
        assert mine["cookie"].rpartition("=")[2] != shown["cookie"].rpartition("=")[2]
        assert yard.ask("GET", "/desk", headers=mine).status_code == 200
        assert yard.ask("GET", "/desk", headers=shown).status_code == 401


@pytest.mark.parametrize(("column", "age"), [("last_seen", IDLE), ("created", LONGEST)])
def test_a_session_ends_after_rest_and_after_its_longest_time(
    yard: Any, problem: CheckProblem, column: str, age: timedelta
) -> None:
    headers = cookie(sign_in(yard, token(yard, "read")))

    def set_back(by: timedelta) -> None:
        with yard.store.writing() as connection:
            connection.execute(sa.update(desk_sessions).values({column: utc(datetime.now(UTC) - by)}))

    set_back(age - timedelta(minutes=5))
    assert yard.ask("GET", "/desk", headers=headers).status_code == 200
    set_back(age + timedelta(seconds=1))
    problem(yard.ask("GET", "/desk", headers=headers), "unauthorized")
    page = yard.ask("GET", "/desk", headers=headers | BROWSER)
    assert "is over. Sign in again" in page_of(page.text).text
    # The next one to sign in clears it away.
    sign_in(yard, token(yard, "read"))
    with yard.store.reading() as connection:
        assert len(connection.execute(sa.select(desk_sessions)).all()) == 1


def test_a_session_that_is_used_goes_on(yard: Any) -> None:
    headers = cookie(sign_in(yard, token(yard, "read")))
    earlier = utc(datetime.now(UTC) - IDLE + timedelta(minutes=5))
    with yard.store.writing() as connection:
        connection.execute(sa.update(desk_sessions).values(last_seen=earlier))
    assert yard.ask("GET", "/desk", headers=headers).status_code == 200
    with yard.store.reading() as connection:
        [seen] = connection.execute(sa.select(desk_sessions.c.last_seen)).scalars()
    assert seen > utc(datetime.now(UTC) - timedelta(minutes=1))


def test_a_session_goes_on_while_nothing_can_be_written(yard: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    headers = cookie(sign_in(yard, token(yard, "read")))
    with yard.store.writing() as connection:
        connection.execute(sa.update(desk_sessions).values(last_seen=utc(datetime.now(UTC) - timedelta(minutes=5))))

    def full(_store: Store) -> None:
        raise StoreFull("full")

    monkeypatch.setattr(Store, "writing", full)
    assert yard.ask("GET", "/desk", headers=headers).status_code == 200


def test_a_key_without_the_scope_read_begins_no_session(yard: Any) -> None:
    for scopes, person in ((("metrics",), None), (("assess",), None), (("mark",), "S-1")):
        key = yard.bearer(*scopes, person=person)["authorization"].removeprefix("Bearer ")
        response = sign_in(yard, key)
        assert response.status_code == 403
        assert "set-cookie" not in response.headers
        assert "lacks the scope" in page_of(response.text).text


def test_a_key_that_is_not_there_or_no_longer_good_begins_no_session(yard: Any) -> None:
    over = yard.bearer("read", until="2020-01-01")["authorization"].removeprefix("Bearer ")
    revoked = token(yard, "read")
    yard.keys.revoke(yard.made[-1].id)
    for key in (over, revoked, "hoof_0123456789ab_" + "A" * 43):
        response = sign_in(yard, key)
        assert response.status_code == 403
        assert "set-cookie" not in response.headers
        assert "no longer good" in page_of(response.text).text
        assert key not in response.text


def test_a_revoked_key_closes_its_sessions(yard: Any, problem: CheckProblem) -> None:
    headers = cookie(sign_in(yard, token(yard, "read")))
    assert yard.ask("GET", "/desk", headers=headers).status_code == 200
    yard.keys.revoke(yard.made[0].id)
    problem(yard.ask("GET", "/desk", headers=headers), "unauthorized")


@pytest.mark.parametrize(
    "value",
    ["", "x", "A" * 43, "hoof_0123456789ab_" + "A" * 43, '"><script>', "x" * 60_000, "x; fitcheck-session=y", "é"],
)
def test_a_cookie_that_is_no_session_opens_nothing_and_is_not_said_back(
    yard: Any, problem: CheckProblem, value: str
) -> None:
    token(yard, "read")
    response = yard.ask("GET", "/desk", headers={"cookie": f"fitcheck-session={value}".encode()})
    problem(response, "unauthorized")
    assert len(value) < 2 or value not in response.text


@pytest.mark.parametrize("path", ["/desk/sign-in", "/desk/sign-out"])
@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.test"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://low-meadow.test:81"},
    ],
)
def test_no_page_of_another_origin_signs_anyone_in_or_out(
    yard: Any, problem: CheckProblem, path: str, headers: dict[str, str]
) -> None:
    response = yard.ask("POST", path, data={"key": token(yard, "read")}, headers=headers)
    problem(response, "cross-origin")
    assert "set-cookie" not in response.headers


def test_signing_out_ends_the_session_and_has_the_browser_forget_it(yard: Any, problem: CheckProblem) -> None:
    headers = cookie(sign_in(yard, token(yard, "read")))
    other = cookie(sign_in(yard, token(yard, "read")))
    response = yard.ask("POST", "/desk/sign-out", headers=headers | {"origin": "http://low-meadow.test"})
    assert (response.status_code, response.headers["location"]) == (303, "/desk/sign-in")
    assert "fitcheck-session=; Max-Age=0; Path=/" in response.headers["set-cookie"]
    problem(yard.ask("GET", "/desk", headers=headers), "unauthorized")
    assert yard.ask("GET", "/desk", headers=other).status_code == 200


def test_where_the_store_does_not_answer_the_browser_forgets_its_session_all_the_same(
    yard: Any, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    headers = cookie(sign_in(yard, token(yard, "read")))

    def down(_store: Store) -> None:
        raise StoreUnavailable

    monkeypatch.setattr(Store, "writing", down)
    response = yard.ask("POST", "/desk/sign-out", headers=headers)
    problem(response, "store-unavailable")
    assert "Max-Age=0" in response.headers["set-cookie"]


@pytest.mark.parametrize("body", ["", "key=", "key=x", "key=%3Cscript%3E", "kee=x", "key=a&key=b", "key=%ff", "\x00"])
def test_what_is_no_key_is_told_on_the_page_and_not_kept(yard: Any, body: str) -> None:
    response = yard.ask("POST", "/desk/sign-in", content=body, headers=FORM | BROWSER)
    assert response.status_code == 400
    assert "set-cookie" not in response.headers
    (note,) = [each for each in page_of(response.text).all("p") if each.attributes.get("role") == "alert"]
    assert note.text.startswith("This is not an access key.")
    assert "script>" not in response.text


def test_bodies_of_the_form_are_bounded_and_of_one_kind(yard: Any, problem: CheckProblem) -> None:
    problem(yard.ask("POST", "/desk/sign-in", content=b"key=" + b"x" * 5000, headers=FORM), "body-too-large")
    problem(yard.ask("POST", "/desk/sign-in", json={"key": "x"}), "unsupported-media-type")
    problem(yard.ask("POST", "/desk/sign-in?key=x", content="key=x", headers=FORM), "bad-query")


def test_the_sign_in_page_lets_a_browser_say_of_which_origin_its_form_is(yard: Any) -> None:
    """With no referrer a browser sends Origin: null with a form (Fetch, 4.1, append a request Origin header)."""
    found = page_of(yard.ask("GET", "/desk/sign-in").text)
    (referrer,) = [each for each in found.all("meta") if each.attributes.get("name") == "referrer"]
    assert referrer.attributes["content"] == "same-origin"
