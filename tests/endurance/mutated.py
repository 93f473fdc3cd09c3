"""Fittings that had accidents on their way: whatever comes, the service answers it, and as it has declared."""

from __future__ import annotations

import asyncio
import json
import random
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http import HTTPStatus
from pathlib import Path
from typing import Final

import httpx

from api.application import create_app
from fitcheck.assessment.assess import assess
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Store, draft_of, open_store, verify
from tests.endurance.databases import address_in
from tests.endurance.declared import Declared
from tests.endurance.load import JSON, NDJSON
from tests.endurance.mutations import FOLLOWED, followed_body, mutated_body
from tests.endurance.report import Report
from tests.endurance.service import Service

__all__ = ["FULL", "run"]

FULL: Final = 20_000
_ONE: Final = "/v1/assessments"
_MANY: Final = "/v1/assessments/batch"
_QUERIES: Final = ("?keep=false",) * 5 + ("?keep=false&explain=true", "?explain=true", "")
_BATCH: Final = 0.1
_REAL_EVERY: Final = 20
_FIRST_REAL: Final = 3
_LONGEST_S: Final = 60.0
_MOST_FAULTS: Final = 1000
"""Faulty lines after which a batch ends."""
"""No answer takes that long on any machine, unless the time grows with what is sent in a way that it must not."""
_SHOWN: Final = 3000


def run(count: int, database: str, folder: Path, seed: int, *, real: bool = True) -> Report:
    """Send ``count`` bodies to the application in process; with ``real``, each twentieth to a real server as well."""
    report = Report(f"mutated: {count} bodies, {database}, seed {seed}")
    begin = time.monotonic()
    with address_in(database, folder) as url, open_store(url) as store:
        _keep_followed(store)
        asyncio.run(_in_process(count, store, seed, report))
        for fault in verify(store):
            report.fault(f"verify: {fault}")
        report.figures["records"] = store.head().number
        if real and count > _FIRST_REAL:
            with Service(folder, url) as service:
                service.start()
                _over_http(count, service.address, seed, report)
                service.stop()
                report.faults += service.errors()
    report.figures["seconds"] = time.monotonic() - begin
    return report


def _keep_followed(store: Store) -> None:
    """Keep the assessment that some of the bodies follow, by the id that they name."""
    raw = followed_body()
    fitting = parse_fitting(json.loads(raw))
    store.keep(draft_of(raw, fitting, assess(fitting).model_copy(update={"id": FOLLOWED})))


def _request(seed: int, number: int) -> tuple[str, str, dict[str, str], bytes]:
    """The request of that number: its path, query, headers and body."""
    chance = random.Random(f"{seed}-{number}")
    body = mutated_body(chance)
    if chance.random() < _BATCH:
        return _MANY, chance.choice(("", "", "?keep=true")), NDJSON, body
    return _ONE, chance.choice(_QUERIES), JSON, body


async def _in_process(count: int, store: Store, seed: int, report: Report) -> None:
    app = create_app(store=store)
    transport = httpx.ASGITransport(app=app, raise_app_exceptions=False)
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
        declared = Declared((await client.get("/openapi.json")).json())
        for number in range(count):
            path, query, headers, body = _request(seed, number)
            with _judged(report, number, body):
                begin = time.monotonic()
                response = await client.post(f"{path}{query}", content=body, headers=headers)
                _judge(report, declared, response, path, number, body, time.monotonic() - begin)
                if response.status_code == HTTPStatus.CREATED:
                    shown = await client.get(response.headers["location"])
                    # With explain, the explanation comes behind what was kept.
                    if not response.content.startswith(shown.content[:-1]):
                        report.fault(f"body {number}: what was kept is not what was answered\n{body!r}")


def _over_http(count: int, address: str, seed: int, report: Report) -> None:
    with httpx.Client(base_url=address, timeout=_LONGEST_S) as client:
        declared = Declared(client.get("/openapi.json").json())
        for number in range(_FIRST_REAL, count, _REAL_EVERY):
            path, query, headers, body = _request(seed, number)
            with _judged(report, number, body):
                begin = time.monotonic()
                response = client.post(f"{path}{query}", content=body, headers=headers)
                _judge(report, declared, response, path, number, body, time.monotonic() - begin, real=True)


@contextmanager
def _judged(report: Report, number: int, body: bytes) -> Iterator[None]:
    """Whatever is raised inside is a fault of that body."""
    try:
        yield
    except Exception as error:  # noqa: BLE001  (what it is, is what is to be found out)
        report.fault(f"body {number}: {error!r}\n{body[:_SHOWN]!r}")


def _answered(response: httpx.Response, body: bytes) -> bool:
    """Whether each line has its answer, or as many faults as a batch may have, then a last line that says so."""
    # By all that any client may take for the end of a line.
    answers = response.text.splitlines()
    if len(answers) == sum(bool(line.strip()) for line in body.split(b"\n")):
        return True
    if not answers or "/problems/too-many-faults" not in answers[-1]:
        return False
    return sum("problem" in json.loads(answer) for answer in answers[:-1]) == _MOST_FAULTS


def _judge(
    report: Report,
    declared: Declared,
    response: httpx.Response,
    path: str,
    number: int,
    body: bytes,
    seconds: float,
    *,
    real: bool = False,
) -> None:
    where = "real server, " if real else ""
    report.count(f"{where}{path.rpartition('/')[2]} answered {response.status_code}")
    report.most(f"{where}slowest answer, s", seconds)
    found = declared.faults(response, "post", path)
    if seconds > _LONGEST_S:
        found.append(f"it took {seconds:.1f} s")
    if path == _MANY and not _answered(response, body):
        found.append("not one answer for each line")
    for fault in found:
        report.fault(f"{where}body {number}: {fault}\n{body[:_SHOWN]!r}")
