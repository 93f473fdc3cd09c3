"""Where an assessor marks a foot otherwise than the tool: overrides taken in, kept and listed."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus
from typing import Any, Final
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response

from api.desk.kept import markable, readable
from api.desk.override_models import KeptOverrides
from api.idempotency import REPLAYED, given_key, idempotency_of
from api.keeping import address_of, etag_of, gone, reused
from api.kept_record import assessment_record
from api.kept_store import KeptStore
from api.openapi import JSON
from api.problem_details import ProblemError
from fitcheck.desk import answer_of, override_in, sheet_of
from fitcheck.errors import BadInput, Problem
from fitcheck.marking import override_of, parse_override
from fitcheck.marking.overrides import OverrideAsked
from fitcheck.problems import summary
from fitcheck.records import Draft, KeyReused, Record, Store, UnknownRecord, draft_of_override
from fitcheck.records.overrides import overrides_about
from fitcheck.strict_json import cut, loads
from rules import Rulebook

__all__ = ["MOST_OVERRIDES", "Overriding", "overrides_listed", "the_override"]

MOST_OVERRIDES: Final = 200
"""Overrides of one assessment; each changes up to fifty things."""


@dataclass(frozen=True, slots=True)
class Overriding:
    """Keeps overrides in ``kept``, whose marks are those of ``book``."""

    kept: KeptStore
    book: Rulebook

    async def answer(self, request: Request, id_: str, raw: bytes) -> Response:
        """Keep the override in ``raw`` of the assessment ``id_``, unless a request of the same Idempotency-Key has.

        Raises ProblemError and StoreError.
        """
        key = given_key(request)
        idempotency = None if key is None else idempotency_of(request, key, raw, ("override", id_))
        try:
            if idempotency is not None:
                earlier = await self.kept.read(lambda store: store.answered(idempotency))
                if earlier is not None:
                    return _created(earlier, replayed=True)
            asked = _asked(raw)
            draft = await self.kept.read(lambda store: self._draft(store, id_, raw, asked))
            done = await self.kept.keep_once(draft, idempotency)
        except KeyReused:
            raise reused(key or "") from None
        except UnknownRecord:
            # It was erased since it was read.
            raise gone(id_) from None
        return _created(done.record, replayed=not done.fresh)

    def _draft(self, store: Store, id_: str, raw: bytes, asked: OverrideAsked) -> Draft:
        """The override as it is to be kept, held against the assessment and the overrides before it."""
        record = assessment_record(store, id_)
        others = overrides_about(store, [id_])
        if len(others) >= MOST_OVERRIDES:
            detail = f'Of the assessment "{cut(id_)}" {MOST_OVERRIDES} overrides were kept, and no more are taken.'
            raise ProblemError("too-many-overrides", detail)
        with readable(id_), markable(id_):
            earlier = [override_in(each) for each in others if not each.erased]
            said = answer_of(record)
            sheet_of(record, earlier, self.book)
        try:
            override = override_of(asked, said, self.book, earlier=earlier)
        except BadInput as error:
            raise _refused(error) from None
        return draft_of_override(raw, override, record)


def _asked(raw: bytes) -> OverrideAsked:
    try:
        document = loads(raw)
    except BadInput as error:
        raise ProblemError("bad-json", error.problems[0].detail, error.problems) from None
    try:
        return parse_override(document)
    except BadInput as error:
        raise _refused(error) from None


def _refused(error: BadInput) -> ProblemError:
    first = error.problems[0]
    many = "" if len(error.problems) == 1 else " More is wrong: see errors."
    return ProblemError("bad-override", f"{first.field}: {first.detail}{many}", error.problems)


def overrides_listed(store: Store, id_: str) -> KeptOverrides:
    """Every override of the assessment ``id_``. Raises ProblemError and StoreError."""
    assessment_record(store, id_)
    found = overrides_about(store, [id_])
    with readable(id_):
        there = tuple(override_in(record) for record in found if not record.erased)
    return KeptOverrides(overrides=there, erased=len(found) - len(there))


def the_override(store: Store, id_: str, override: str) -> Record:
    """The record of one override of the assessment ``id_``. Raises ProblemError and StoreError."""
    record = store.record(override)
    if record is None or record.kind != "override" or record.about != id_:
        detail = (
            f'The assessment "{cut(id_)}" has no override "{cut(override)}". GET {_address(id_)} lists those it has.'
        )
        fault = Problem("path.override", summary(override), f"the id of one in GET {_address(id_)}", detail)
        raise ProblemError("not-found", detail, [fault])
    if record.erased:
        raise ProblemError("gone", f'The override "{cut(override)}" was erased.')
    return record


def _address(id_: str) -> str:
    return f"{address_of(id_)}/overrides"


def _created(record: Record, *, replayed: bool) -> Response:
    headers: dict[str, Any] = {
        "location": f"{_address(record.about or '')}/{quote(record.id, safe='')}",
        "etag": etag_of(record),
    }
    if replayed:
        headers[REPLAYED] = "true"
    return Response(record.answer, HTTPStatus.CREATED, headers, JSON)
