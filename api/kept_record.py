"""The record of one assessment by the id in an address, and whether the client has what is made of it already."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Final

from starlette.requests import Request

from api.keeping import gone
from api.problem_details import ProblemError
from fitcheck.errors import Problem
from fitcheck.problems import summary
from fitcheck.records import Record, Store
from fitcheck.strict_json import cut

__all__ = ["assessment_record", "has_already", "tag_of"]

_TAG_GIVEN: Final = re.compile(r'(?:W/)?("[^"]*")')


def assessment_record(store: Store, id_: str) -> Record:
    """The record of the assessment of that id.

    Raises ProblemError of kind not-found, or gone where it was erased; and StoreError.
    """
    record = store.record(id_)
    if record is None or record.kind != "assessment":
        detail = f'There is no assessment "{cut(id_)}". GET /v1/assessments lists those that were kept.'
        raise ProblemError(
            "not-found",
            detail,
            [Problem("path.id", summary(id_), "the id of an assessment in GET /v1/assessments", detail)],
        )
    if record.erased:
        raise gone(id_)
    return record


def has_already(request: Request, etag: str) -> bool:
    """Whether If-None-Match names ``etag``, by the weak comparison of RFC 9110."""
    given = ", ".join(request.headers.getlist("if-none-match"))
    return given.strip() == "*" or etag in _TAG_GIVEN.findall(given)


def tag_of(*parts: str) -> str:
    """An entity tag of what is made of ``parts`` and nothing else."""
    return f'"sha256:{hashlib.sha256(json.dumps(parts).encode()).hexdigest()}"'
