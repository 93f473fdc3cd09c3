"""What the service answers on every route, on a store that was kept with release 0.1 (``kept.ndjson``)."""

from __future__ import annotations

import asyncio
import json
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

import httpx
from fastapi import FastAPI
from starlette.routing import Match, Route

from api.application import create_app
from api.routes.practice import PRACTICE_EXAMPLE
from fitcheck.records import Store, open_store
from fitcheck.records.backup import restore
from fitcheck.vocabulary import now
from tests.frozen.normal import normal
from tests.frozen.openapi import with_frozen_names
from tests.support.paths import ROOT

__all__ = ["KEPT", "REQUESTS", "Request", "request_answers", "routes_asked"]

KEPT: Final = Path(__file__).parent / "kept.ndjson"
_CASES: Final = ROOT / "cases_demo"
_LEFT: Final = "1c6f91de-031f-4d51-8ceb-e182beaacab3"
_GERMAN: Final = "c58c2e4c-ffe5-4424-93ee-e3513b54efde"
_OVERRIDDEN: Final = "b37aeb2a-e10e-4cdd-b0e6-9587226826f1"
_CORRECTED: Final = "6233fa9c-2446-4bea-b925-1f2d303ad184"
_ERASED: Final = "153881d4-067b-478a-965e-5f37f3cb2482"
_TRACED: Final = "b9af361c-2eb2-4ccd-85ae-22c92a9811ab"
_FLAWED: Final = "1dd1db6b-f02c-4529-aabb-bda767c4e688"
_OVERRIDE: Final = "469ab6b6-0555-4f42-834c-f2564a7daa44"
_UNKNOWN: Final = "00000000-0000-4000-8000-000000000000"
_PASSING: Final = {"x-request-id", "content-length", "date"}
"""Headers that differ from run to run, or follow from the body."""


class Request(NamedTuple):
    """One request: ``body`` as it is sent."""

    method: str
    path: str
    body: bytes | None = None
    headers: tuple[tuple[str, str], ...] = ()

    @property
    def key(self) -> str:
        """What the request is called among the frozen answers."""
        more = "".join(f" [{name}: {value}]" for name, value in self.headers if name != "content-type")
        body = "" if self.body is None else f" {self.body[:60]!r}"
        return f"{self.method} {self.path}{more}{body}"


def _case(name: str) -> bytes:
    return (_CASES / f"{name}.json").read_bytes()


def _json(path: str, body: bytes, *headers: tuple[str, str], method: str = "POST") -> Request:
    return Request(method, path, body, (("content-type", "application/json"), *headers))


def _get(path: str, *headers: tuple[str, str]) -> Request:
    return Request("GET", path, None, headers)


def _assessments() -> Iterator[Request]:
    good = _case("good-draught-fore")
    yield _json("/v1/assessments?keep=false", good)
    yield _json("/v1/assessments?keep=false&explain=true", _case("traced-coarse-nails"))
    yield _json("/v1/assessments?keep=false&lang=de", _case("high-nail"))
    yield _json("/v1/assessments?keep=false", _case("flinch"), ("accept-language", "de-AT, en;q=0.5"))
    yield _json("/v1/assessments", _case("tight-heel-overdue"), ("idempotency-key", "again"))
    yield _json("/v1/assessments", _case("tight-heel-overdue"), ("idempotency-key", "again"))
    yield _json("/v1/assessments", good, ("idempotency-key", "again"))
    yield _json(f"/v1/assessments?corrects={_OVERRIDDEN}", _case("unlevel-foot"))
    for body in (
        b"",
        b"{",
        b"[]",
        b'{"foot": "left_fore", "foot": "left_hind"}',
        b'{"foot": "left_four", "stage": "hot_fit", "work": "draught", "observations": {}, "colour": "bay"}',
        good.replace(b'"work": "draught"', b'"work": 4'),
        b'{"foot": "left_fore", "stage": "hot_fit", "work": "riding", "shoe": {"length": {"value": 1, "unit": "x"}}}',
    ):
        yield _json("/v1/assessments?keep=false", body)
    yield _json("/v1/assessments?keep=maybe", good)
    yield _json("/v1/assessments?keep=false&corrects=x", good)
    yield _json(f"/v1/assessments?corrects={_UNKNOWN}", good)
    yield Request("POST", "/v1/assessments", good, (("content-type", "text/plain"),))
    lines = b"\n".join(json.dumps(json.loads(_case(name))).encode() for name in ("high-nail", "incomplete"))
    lines += b'\n\n{"foot": 1}\n'
    ndjson = (("content-type", "application/x-ndjson"),)
    yield Request("POST", "/v1/assessments/batch", lines, ndjson)
    yield Request("POST", "/v1/assessments/batch?keep=true&lang=de", lines, ndjson)
    yield Request("POST", "/v1/assessments/batch?explain=true", lines, ndjson)
    override = {"about": _FLAWED, "assessor": {"id": "S-11"}, "changes": []}
    change = {"what": "set_mark", "criterion": "heel_fit", "mark": 3.5, "reason": "Neatly done."}
    yield _json(f"/v1/assessments/{_FLAWED}/overrides", json.dumps(override).encode())
    yield _json(f"/v1/assessments/{_FLAWED}/overrides", json.dumps({**override, "changes": [change]}).encode())
    yield _json(
        f"/v1/assessments/{_ERASED}/overrides", json.dumps({**override, "about": _ERASED, "changes": [change]}).encode()
    )


def _kept() -> Iterator[Request]:
    one = "/v1/assessments/"
    for query in ("", "?horse=H-302", "?person=A-21&order=oldest&limit=2", "?decision=put_right&foot=left_fore"):
        yield _get("/v1/assessments" + query)
    for query in ("?from=2026-03-11&to=2026-03-25", "?colour=bay", "?limit=0", "?after=x", "?visit=2026-03-28-H-306"):
        yield _get("/v1/assessments" + query)
    for id_ in (_LEFT, _GERMAN, _OVERRIDDEN, _CORRECTED, _ERASED, _UNKNOWN):
        for what in ("", "/fitting", "/drawing.svg", "/report.html", "/overrides", "/marks"):
            yield _get(f"{one}{id_}{what}")
    for id_ in (_TRACED, _FLAWED):
        for what in ("", "/drawing.svg?form=column", "/drawing.svg?form=sheet", "/report.html", "/marks"):
            yield _get(f"{one}{id_}{what}")
    for id_ in (_LEFT, _ERASED):
        yield _get(f"{one}{id_}/explanation")
        yield _get(f"{one}{id_}/hand-marks")
    for query in ("", "?grade=major", "?colour=bay"):
        yield _get(f"/v1/findings.csv{query}")
        yield _get(f"/v1/readings.csv{query}")
    yield _get(f"{one}{_TRACED}/marks?lang=de")
    yield _get(f"{one}{_OVERRIDDEN}/overrides/{_OVERRIDE}")
    yield _get(f"{one}{_LEFT}/overrides/{_OVERRIDE}")
    yield _get("/v1/assessments/not-an-id")


def _people() -> Iterator[Request]:
    for visit in ("2026-03-04-H-301", "2026-03-28-H-306", "2026-03-27-H-305", "nobody"):
        for what in ("", "/report.html", "/marks", "?lang=de"):
            yield _get(f"/v1/visits/{visit}{what}")
    for person in ("A-21", "F-22", "nobody"):
        for what in ("", "/marks.svg", "/shares.svg", "?from=2026-03-11&to=2026-03-18"):
            yield _get(f"/v1/people/{person}/progress{what}")
    for query in ("?first=S-11&second=tool", "?first=S-11&second=S-12", "?first=S-11"):
        yield _get(f"/v1/agreement{query}")
    yield _get("/v1/events")
    yield _get("/v1/events?limit=2")
    yield _get("/v1/events?after=nowhere")


def _eyes_and_practice() -> Iterator[Request]:
    yield _get("/v1/practice")
    for person in ("A-21", "nobody"):
        for what in ("", "?lang=de", "/heel_by_eye.svg", "/nothing.svg"):
            yield _get(f"/v1/people/{person}/eye{what}")
    practice = "/v1/people/A-21/practice"
    session = json.dumps(PRACTICE_EXAMPLE).encode()
    yield _json(practice, session)
    yield _json(practice, session)
    yield _json(practice, json.dumps({**PRACTICE_EXAMPLE, "exercise": "toe_length"}).encode())
    yield _json(practice, json.dumps({**PRACTICE_EXAMPLE, "drawings": []}).encode())
    for what in ("", "?exercise=heel_width", "?before=nothing", "/outcome", "/outcome?lang=de", "/nothing"):
        yield _get(f"{practice}{what}")
    yield _get(f"{practice}/{PRACTICE_EXAMPLE['id']}")
    yield _get("/v1/people/A-21/eye")


def _pages() -> Iterator[Request]:
    for query in ("", "?horse=H-302", "?person=A-21", "?lang=de"):
        yield _get(f"/desk{query}")
        yield _get(f"/desk/marks{query}")
    yield _get(f"/desk/sheet?assessment={_OVERRIDDEN}")
    yield _get(f"/desk/sheet?assessment={_GERMAN}")
    for query in ("", "?person=A-21", "?person=nobody"):
        yield _get(f"/desk/progress{query}")
    for query in ("", "?first=S-11&second=tool", "?first=S-11&second=S-12"):
        yield _get(f"/desk/agreement{query}")
    for query in ("", "?horse=H-302", "?lang=de"):
        yield _get(f"/desk/list.csv{query}")
    # Without days the feet to mark are those of today.
    days = "from=2026-03-01&to=2026-03-31"
    for query in (days, f"{days}&horse=H-302&by=S-1", f"{days}&lang=de"):
        yield _get(f"/desk/queue?{query}")
    yield _get("/desk/practice")
    yield _get("/desk/eyes")
    yield _get("/desk/eyes?lang=de")
    yield _get("/practice")
    yield _get(f"/desk/foot?assessment={_LEFT}&{days}")
    yield _get("/desk/sign-in")
    form = (("content-type", "application/x-www-form-urlencoded"),)
    yield Request("POST", "/desk/sign-in", b"key=wrong", form)
    yield Request("POST", "/desk/sign-out", b"", form)
    yield Request("POST", "/desk/by-hand", f"assessment={_LEFT}".encode(), form)
    yield Request("POST", "/desk/reasons", f"assessment={_LEFT}".encode(), form)


def _others() -> Iterator[Request]:
    yield _get("/v1/rulebook")
    yield _get("/v1/rulebook?lang=de")
    yield _get("/v1/fields")
    yield _get("/v1/subscriptions")
    yield _get("/v1/subscriptions/unknown")
    yield Request("POST", "/v1/subscriptions/unknown/test")
    for rule in ("heel-width-tight", "heels-both-tight", "nail-flinch", "no-such-rule"):
        yield _get(f"/v1/rulebook/rules/{rule}")
    yield _get("/v1/rulebook/rules/bare-arc?lang=de")
    yield _get("/v1/rulebook?lang=tlh")
    for path in ("/healthz", "/readyz", "/docs", "/", "/service-worker.js", "/problems/bad-input", "/problems/nothing"):
        yield _get(path)
    yield _get("/page/0/js/main.js")
    yield _get("/nowhere")
    yield Request("DELETE", "/v1/assessments")
    yield Request("OPTIONS", "/v1/assessments")
    yield Request("HEAD", "/v1/rulebook")
    yield _get("/healthz", ("host", "elsewhere.test"))
    yield _get("/metrics")
    yield _get("/openapi.json")


REQUESTS: Final = (*_others(), *_kept(), *_people(), *_eyes_and_practice(), *_pages(), *_assessments())
_DIGESTS_ONLY: Final = {"/metrics", "/openapi.json", "/", "/practice", "/service-worker.js"}
"""Of these the head alone is frozen: counts and times, what the group ``openapi`` has, and the page's own files."""


def request_answers() -> Iterator[tuple[str, str]]:
    """The answer to each request: status, headers and body, in the order of asking."""
    with tempfile.TemporaryDirectory() as folder, open_store(f"sqlite:///{folder}/records.sqlite3") as store:
        restore(KEPT, store)
        yield from asyncio.run(_ask_all(create_app(store=store), store))


async def _ask_all(app: FastAPI, store: Store) -> list[tuple[str, str]]:
    ids = frozenset(record.id for record in store.following(0, 100))
    transport = httpx.ASGITransport(app=app, client=("127.0.0.1", 50000))
    answers: dict[str, str] = {}
    async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8750") as client:
        for request in REQUESTS:
            response = await client.request(
                request.method, request.path, content=request.body, headers=list(request.headers)
            )
            key = request.key
            while key in answers:
                key += " again"
            answers[key] = text = normal(_text(request, response), keep_ids=ids)
            # Else it is another one tomorrow.
            assert now()[:10] not in text, f"{key} says what day it is"
    return list(answers.items())


def _text(request: Request, response: httpx.Response) -> str:
    headers = sorted((name, value) for name, value in response.headers.items() if name not in _PASSING)
    head = "\n".join([str(response.status_code), *(f"{name}: {value}" for name, value in headers)])
    if request.path in _DIGESTS_ONLY:
        return "\n".join(line for line in head.splitlines() if not line.startswith("etag"))
    body = with_frozen_names(response.text) if request.path == "/docs" else response.text
    return f"{head}\n\n{body}"


def routes_asked(app: FastAPI) -> set[str]:
    """The paths of ``app``'s routes that some request is sent to with a method of theirs."""
    asked = set()
    for request in REQUESTS:
        scope: dict[str, Any] = {"type": "http", "method": request.method, "path": request.path.partition("?")[0]}
        for route in app.routes:
            if isinstance(route, Route) and route.matches(scope)[0] is Match.FULL:
                asked.add(route.path)
                break
    return asked
