"""Stores that release 1.0.0 kept, and what was told of them then.

The same 42 records of one yard lie there as a SQLite file, as ``pg_dump`` wrote them out of PostgreSQL, and as a
portable backup: the demo feet, read by two assessors, two in German; a pair, a correction, two overrides, a batch, one
sent twice, one that a yard's own book judged, one person erased; two access keys, of which one was revoked.
``told.json.gz`` has what the service answered about them, by kind and address.
"""

from __future__ import annotations

import asyncio
import gzip
import json
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import httpx
import psycopg

from api.application import create_app
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.settings import ServiceSettings
from fitcheck.stored.regrade import Regrading
from tests.contract_one.corpus import first_book

__all__ = [
    "KEPT",
    "REVOKED",
    "TOKEN",
    "ask",
    "assessments",
    "by_kind",
    "empty_in",
    "kept_in",
    "lost",
    "read_told",
    "records_kept",
    "told",
    "unpack",
    "write_told",
]

KEPT: Final = Path(__file__).parent / "stores"
TOLD: Final = KEPT / "told.json.gz"
TOKEN: Final = "hoof_166089c0cdf9_kmOCRmrXWa9I-XiiZF-Z8UNydV7SYA52SJy5yFOED0Q"  # noqa: S105  (of this invented yard, which has nothing but these records)
REVOKED: Final = "hoof_f787808998e4_dmp7UGf8-D_CrVJAABLQS47IgaVvgt4-GAuTmLsJQh4"
_ERASED_VISIT: Final = "2026-04-01-H-399"
_QUERIES: Final = (
    "?order=oldest&limit=200",
    "?person=A-21&decision=put_right",
    "?horse=H-305&foot=left_fore",
    "?assessor=S-12&limit=3",
    "?from=2026-01-01&to=2026-01-02",
)


def unpack(name: str, folder: Path) -> Path:
    """The kept file of that name, unpacked into ``folder``."""
    file = folder / name
    file.write_bytes(gzip.decompress((KEPT / f"{name}.gz").read_bytes()))
    return file


def records_kept() -> list[dict[str, Any]]:
    """Each record as the portable backup has it."""
    lines = [json.loads(line) for line in gzip.decompress((KEPT / "backup.ndjson.gz").read_bytes()).splitlines()]
    return [line for line in lines if "backup" not in line]


@contextmanager
def empty_in(database: str, folder: Path, postgres: str = "") -> Iterator[str]:
    """The address of a store that is not there yet: a file in ``folder``, or a schema of the server ``postgres``."""
    if database == "sqlite":
        yield f"sqlite:///{folder / 'records.sqlite'}"
        return
    schema = f"yard_{uuid.uuid4().hex}"
    with psycopg.connect(postgres, autocommit=True) as connection:
        connection.execute(f"CREATE SCHEMA {schema}".encode())
        yield f"{postgres}&options=-csearch_path%3D{schema}"
        connection.execute(f"DROP SCHEMA {schema} CASCADE".encode())


@contextmanager
def kept_in(database: str, folder: Path, postgres: str = "") -> Iterator[str]:
    """The address of a copy of the kept store of that database."""
    with empty_in(database, folder, postgres) as address:
        if database == "sqlite":
            unpack("records.sqlite", folder)
        else:
            with psycopg.connect(address) as connection:
                connection.execute(gzip.decompress((KEPT / "records.postgres.sql.gz").read_bytes()))
        yield address


def assessments(store: Store) -> list[Record]:
    """The assessments that were not erased, oldest first."""
    records = store.records(RecordFilter(kind="assessment"), newest_first=False, limit=200)
    return [record for record in records if not record.erased]


def ask(
    store: Store, *requests: tuple[str, str, bytes | None], token: str = TOKEN, **headers: str
) -> list[httpx.Response]:
    """The answers of the service to the requests (method, address, body), by the first book and with an access key."""
    sent = {"authorization": f"Bearer {token}", "content-type": "application/json"} | headers

    async def send() -> list[httpx.Response]:
        app = create_app(first_book(), settings=ServiceSettings(keys_required=True), store=store)
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test", headers=sent) as client:
            return [await client.request(method, path, content=body) for method, path, body in requests]

    return asyncio.run(send())


def _addresses(store: Store) -> Iterator[tuple[str, str]]:
    """What is asked for, by kind."""
    one = "/v1/assessments"
    yield from (("list", one + query) for query in _QUERIES)
    for record in store.records(RecordFilter(kind="assessment"), newest_first=False, limit=200):
        yield "marks", f"{one}/{record.id}/marks"
        yield "overrides", f"{one}/{record.id}/overrides"
    for visit in sorted({record.visit for record in assessments(store) if record.visit} | {_ERASED_VISIT}):
        yield "visit", f"/v1/visits/{quote(visit)}"
        yield "visit marks", f"/v1/visits/{quote(visit)}/marks"
    for person in ("A-21", "A-22", "F-22", "A-99"):
        yield "progress", f"/v1/people/{person}/progress"
    yield "agreement", "/v1/agreement?first=S-11&second=S-12"
    yield "agreement", "/v1/agreement?first=S-12&second=tool"
    yield "events", "/v1/events?limit=12"


def told(store: Store) -> list[dict[str, Any]]:
    """What is told of the store today: kind, address, status, and the document where there is one."""
    addresses = list(_addresses(store))
    answers = ask(store, *(("GET", address, None) for _, address in addresses))
    made = [
        {"kind": kind, "address": address, "status": answer.status_code, "document": _document(answer)}
        for (kind, address), answer in zip(addresses, answers, strict=True)
    ]
    regrading = Regrading(store, first_book(), RecordFilter(kind="assessment"))
    for regraded in regrading.each():
        line = regrading.line(regraded)
        made.append({"kind": "regrade", "address": str(line["number"]), "status": 200, "document": line})
    return made


def _document(answer: httpx.Response) -> Any:
    """The answer's document; of a problem, what does not differ from run to run."""
    if answer.headers["content-type"] == "application/x-ndjson" or not answer.content:
        return [json.loads(line) for line in answer.text.splitlines()]
    document = answer.json()
    return document if answer.is_success else {"type": document["type"]}


def read_told() -> list[dict[str, Any]]:
    """What was told when release 1.0.0 was the newest."""
    frozen: list[dict[str, Any]] = json.loads(gzip.decompress(TOLD.read_bytes()))
    return frozen


def write_told(store: Store) -> int:
    """Freeze what is told of the store today; returns of how many addresses."""
    made = told(store)
    text = json.dumps(made, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    TOLD.write_bytes(gzip.compress(text.encode(), mtime=0))
    return len(made)


def by_kind(answers: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """The answers by kind, each a list of status and document by address."""
    kinds: dict[str, dict[str, Any]] = {}
    for answer in answers:
        of_kind = kinds.setdefault(answer["kind"], {"address": [], "status": [], "document": []})
        for name, parts in of_kind.items():
            parts.append(answer[name])
    return kinds


def lost(before: Any, after: Any, path: str) -> set[str]:
    """The paths where ``after`` has no longer what ``before`` has; what is new beside it is not lost."""
    if isinstance(before, dict) and isinstance(after, dict):
        return {
            each
            for key, value in before.items()
            for each in (lost(value, after[key], f"{path}.{key}") if key in after else {f"{path}.{key}"})
        }
    if isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        return {each for pair in zip(before, after, strict=True) for each in lost(*pair, f"{path}[]")}
    return set() if before == after else {path}
