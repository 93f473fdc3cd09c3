"""Texts with a meaning of their own in every place that takes a text: they are data there, and nothing else."""

from __future__ import annotations

import json
import time
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import httpx

from fitcheck.records import Store, open_store, verify
from fitcheck.records.keys import AccessKeys
from tests.endurance.databases import address_in
from tests.endurance.injections import TEXTS
from tests.endurance.load import JSON
from tests.endurance.raw_http import Answer, ask
from tests.endurance.report import Report
from tests.endurance.service import Service
from tests.support.kept_fittings import demo_bodies, kept_fittings

__all__ = ["FULL", "run"]

FULL: Final = len(TEXTS)
_THERE_BEFORE: Final = 5
_LIST: Final = "/v1/assessments"
_FILTERS: Final = ("person", "assessor", "horse", "visit", "foot", "decision")
_OTHERS: Final = ("from", "to", "order", "limit", "after")
_PATHS: Final = (f"{_LIST}/{{}}", f"{_LIST}/{{}}/drawing.svg", "/v1/rulebook/rules/{}", "/problems/{}", "/{}", "/v1/{}")
_HEADERS: Final = (
    "Idempotency-Key",
    "If-None-Match",
    "X-Request-Id",
    "Accept",
    "Content-Type",
    "X-Forwarded-For",
    "Cookie",
)
_FREE: Final = ("visit", "horse")
_PATIENCE_S: Final = 120.0
_SHOWN: Final = 400


def run(count: int, database: str, folder: Path, seed: int) -> Report:
    """Try ``count`` of the texts, spread over all of them and begun at ``seed``."""
    texts = [TEXTS[(seed + number * len(TEXTS) // count) % len(TEXTS)] for number in range(min(count, len(TEXTS)))]
    report = Report(f"injected: {len(texts)} texts, {database}, seed {seed}")
    begin = time.monotonic()
    with address_in(database, folder) as url, open_store(url) as store, Service(folder, url) as service:
        before = store.keep_many(list(kept_fittings(_THERE_BEFORE)))
        _, token = AccessKeys(store).make("Low Meadow", ("admin",))
        service.start("--rate", "0")
        headers = {"authorization": f"Bearer {token.text}"}
        with httpx.Client(base_url=service.address, headers=headers, timeout=_PATIENCE_S) as client:
            tried = _Tried(report, store, client, service.address, token.text)
            for text in texts:
                tried.in_bodies(text)
                tried.in_filters(text)
                tried.in_paths(text)
                tried.in_headers(text)
        service.stop()
        report.faults += [f"verify: {fault}" for fault in verify(store)]
        if store.following(0, _THERE_BEFORE) != before or store.head().number != _THERE_BEFORE + tried.kept:
            report.fault(f"there are {store.head().number} records, not {_THERE_BEFORE} and {tried.kept} more")
        _judge_log(report, service.log, texts)
    report.figures["records"] = tried.kept
    report.figures["seconds"] = time.monotonic() - begin
    return report


def _judge_log(report: Report, log: Path, texts: list[str]) -> None:
    """Every line is a JSON object of ours, none is an error, and none has anything of what was sent."""
    for line in log.read_text(encoding="utf-8").splitlines():
        try:
            told = json.loads(line)
        except ValueError:
            report.fault(f"a line of the log that is no JSON: {line[:_SHOWN]}")
            continue
        if told["level"] not in {"info", "warning"}:
            report.fault(f"in the log: {line[:_SHOWN]}")
        told.pop("request_id", None)  # that may be the client's own, if it is harmless
        # Short ones are also found in what has nothing to do with them.
        sent = [text for text in texts if len(text) > len("records.x") and text in f"{told}"]
        if sent:
            report.fault(f"{sent} in the log: {line[:_SHOWN]}")
    report.figures["lines of the log"] = len(log.read_text(encoding="utf-8").splitlines())


def _places(part: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Where texts stand in a fitting."""
    inner = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for key, value in inner:
        if isinstance(value, str):
            yield (*path, key)
        yield from _places(value, (*path, key))


@dataclass
class _Tried:
    """One service on which it is tried."""

    report: Report
    store: Store
    client: httpx.Client
    address: str
    token: str
    kept: int = 0

    def in_bodies(self, text: str) -> None:
        """In the place of each text of a fitting, as a key, and in texts that it need not have."""
        fitting = json.loads(demo_bodies()[0]) | {"notes": "x"}
        fitting["horse"] |= {"ueln": "x", "transponder": "x"}
        places = [*_places(fitting)]
        fitting["horse"] = {"id": fitting["horse"]["id"]}
        for path in places:
            document = deepcopy(fitting)
            here: Any = document
            for step in path[:-1]:
                here = here[step]
            here[path[-1]] = text
            self._send(document, path[0] if path[0] in _FREE and path[-1] in {"visit", "id"} else "", text)
        self._send(fitting | {text: "x"}, "", text)
        self._send(fitting | {"observations": {text: {text: text}}}, "", text)

    def _send(self, document: dict[str, Any], filtered: str, text: str) -> None:
        body = json.dumps(document).encode()
        response = self.client.post(_LIST, content=body, headers=JSON)
        self._judge(response, f"body with {text!r}")
        if response.status_code != HTTPStatus.CREATED:
            return
        self.kept += 1
        record = self.store.record(response.json()["id"])
        if record is None or (record.received, record.answer) != (body, response.content):
            self.report.fault(f"body with {text!r}: what was kept is not what was sent and answered")
        self._look_at_drawing(response.headers["location"], text)
        if not filtered:
            return
        listed = self.client.get(_LIST, params={filtered: text, "limit": 200}).json()["assessments"]
        if response.json()["id"] not in [each["id"] for each in listed]:
            self.report.fault(f"{filtered} {text!r} is not found by its name")
        # As a part of an address, a client takes dots away before it asks.
        if filtered == "visit" and text not in {".", ".."}:
            shown = self.client.get(f"/v1/visits/{quote(text, safe='')}")
            if shown.status_code != HTTPStatus.OK or shown.json()["visit"] != text:
                self.report.fault(f"visit {text!r} is not found by its address: {shown.text[:_SHOWN]}")

    def _look_at_drawing(self, location: str, text: str) -> None:
        drawn = self.client.get(f"{location}/drawing.svg")
        self.report.count("drawings")
        if drawn.status_code != HTTPStatus.OK:
            self.report.fault(f"drawing with {text!r}: {drawn.status_code} {drawn.text[:_SHOWN]}")
            return
        for element in ET.fromstring(drawn.content).iter():  # noqa: S314  (our own drawing; that it is well formed)
            if element.tag.rpartition("}")[2] in {"script", "img", "foreignObject"}:
                self.report.fault(f"drawing with {text!r}: there is an element {element.tag}")
            self.report.faults += [
                f"drawing with {text!r}: {name}={value!r}"
                for name, value in element.attrib.items()
                if name.startswith("on") or "javascript:" in value
            ]

    def in_filters(self, text: str) -> None:
        """As the value of each query parameter, and as its name."""
        for name in (*_FILTERS, *_OTHERS, text):
            response = self.client.get(_LIST, params={name: text})
            self._judge(response, f"{name}={text!r}")
            if response.status_code == HTTPStatus.OK and (
                name not in _FILTERS or any(each[name] != text for each in response.json()["assessments"])
            ):
                self.report.fault(f"{name}={text!r} finds others: {response.text[:_SHOWN]}")
        for path in ("/v1/events", "/v1/rulebook", f"{_LIST}/x", "/healthz", "/metrics"):
            for name in ("after", "limit", "wait", "explain", text):
                self._judge(self.client.get(path, params={name: text}), f"{path}, {name}={text!r}")
        for name in ("keep", "corrects", "explain"):
            self._judge(self.client.post(_LIST, params={name: text}, json={}), f"{name}={text!r}")

    def in_paths(self, text: str) -> None:
        """As a part of an address: written as an address must be, and as it is."""
        as_it_is = text.replace(" ", "+").encode()
        for path in (*_PATHS, "/v1/visits/{}"):
            before, _, after = path.partition("{}")
            written = before.encode() + quote(text, safe="").encode() + after.encode()
            for target in (written, before.encode() + as_it_is + after.encode()):
                answer = ask(self.address, target, {b"Authorization": b"Bearer " + self.token.encode()})
                self._judge_raw(answer, f"{target!r}")
                if answer.status == HTTPStatus.OK and not self._may_be_shown(answer, path, text):
                    self.report.fault(f"{target!r} finds {answer.body[:_SHOWN]!r}")

    @staticmethod
    def _may_be_shown(answer: Answer, path: str, text: str) -> bool:
        """Whether a good answer is the visit of that name, or the page of something that is really there."""
        if path.startswith("/v1/visits/"):
            return bool(json.loads(answer.body)["visit"] == text)
        return text in {".", ".."} or "?" in text

    def in_headers(self, text: str) -> None:
        """As the value of headers, the access key among them; a line break in one begins another header."""
        raw = text.encode()
        own = b"Bearer " + self.token.encode()
        for name in _HEADERS:
            answer = ask(self.address, f"{_LIST}?limit=1".encode(), {b"Authorization": own, name.encode(): raw})
            self._judge_raw(answer, f"{name}: {text!r}")
        for shown in (b"Bearer " + raw, raw, b"Bearer hoof_0123456789ab_" + raw, own + raw, b"Basic " + raw):
            answer = ask(self.address, f"{_LIST}?limit=1".encode(), {b"Authorization": shown})
            self._judge_raw(answer, f"Authorization: {shown!r}")
            # A token that ends with the line is the right one, and what follows another header.
            if answer.status == HTTPStatus.OK and not shown.startswith(own + b"\r\n"):
                self.report.fault(f"Authorization: {shown!r} is let in")
        visible = text.encode("ascii", "replace").replace(b"\n", b"").replace(b"\r", b"").replace(b"\x00", b"")
        response = self.client.post(_LIST, json={}, headers={"idempotency-key": visible.strip().decode()})
        self._judge(response, f"Idempotency-Key: {visible!r}")

    def _judge(self, response: httpx.Response, what: str) -> None:
        self._judge_raw(Answer(response.status_code, response.headers, response.content), what)

    def _judge_raw(self, answer: Answer, what: str) -> None:
        """No failure, nothing that a browser would run, and no header that was not ours."""
        self.report.count("requests")
        self.report.count(f"answered {answer.status or 'by closing'}")
        if answer.status >= HTTPStatus.INTERNAL_SERVER_ERROR:
            self.report.fault(f"{what}: {answer.status} {answer.body[:_SHOWN]!r}")
        if {"x-injected", "set-cookie"} & {name.lower() for name in answer.headers}:
            self.report.fault(f"{what}: {dict(answer.headers)}")
        kind = answer.headers.get("content-type", "")
        if answer.status and answer.headers.get("x-request-id"):
            if kind.startswith("text/html") and b"<script>alert" in answer.body:
                self.report.fault(f"{what}: a page with a script: {answer.body[:_SHOWN]!r}")
            if answer.headers.get("x-content-type-options") != "nosniff":
                self.report.fault(f"{what}: a browser may guess what it is: {dict(answer.headers)}")
        elif answer.status not in {0, HTTPStatus.BAD_REQUEST}:
            # Only what is no HTTP at all does not get as far as the service.
            self.report.fault(f"{what}: answered without an id: {answer.status} {dict(answer.headers)}")
