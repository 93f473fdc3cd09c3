"""The record of one assessment by the id in an address, and whether the client has what is made of it already."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from http import HTTPStatus
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from api.assessing import cannot_show, gone
from api.http.problems import ProblemError
from api.openapi.examples import EXAMPLE_ID
from api.openapi.operation import header
from api.parameters.query import parameter
from fitcheck import __version__
from fitcheck.errors import Problem
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.records import Record, Store
from fitcheck.stored import CannotMark, StoredFoot, Unreadable, foot_of
from rules import Rulebook

__all__ = [
    "ASSESSMENT_ID",
    "HTML",
    "SVG",
    "SVG_POLICY",
    "TAGGED",
    "answered",
    "assessment_record",
    "has_already",
    "markable",
    "readable",
    "stored_foot",
    "tag_of",
]

_ENTITY_TAG: Final = re.compile(r'(?:W/)?("[^"]*")')


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
    tags = ", ".join(request.headers.getlist("if-none-match"))
    return tags.strip() == "*" or etag in _ENTITY_TAG.findall(tags)


def tag_of(*parts: str) -> str:
    """An entity tag of what is made of ``parts`` and nothing else."""
    return f'"sha256:{hashlib.sha256(json.dumps(parts).encode()).hexdigest()}"'


HTML: Final = "text/html"
SVG: Final = "image/svg+xml"
SVG_POLICY: Final = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; sandbox"
"""What a picture that is opened by itself may load or run: nothing, and it belongs to no origin."""
TAGGED: Final = {"ETag": header("Another where the answer is another.")}
"""The header of an answer that is made of what was kept, for the OpenAPI document."""
ASSESSMENT_ID: Final = parameter("path", "id", "The assessment's id.", example=EXAMPLE_ID)


def stored_foot(store: Store, id_: str, book: Rulebook) -> StoredFoot:
    """The assessment of that id. Raises ProblemError of kind not-found, gone or cannot-show, and StoreError."""
    record = assessment_record(store, id_)
    with readable(id_):
        return foot_of(record, book)


@contextmanager
def readable(id_: str) -> Iterator[None]:
    """What is read in the block belongs to the assessment ``id_``: ProblemError of kind cannot-show where it cannot."""
    try:
        yield
    except Unreadable as error:
        raise cannot_show(id_) from error


@contextmanager
def markable(what: str) -> Iterator[None]:
    """What is marked in the block is ``what``: ProblemError of kind cannot-mark where the scheme does not fit it."""
    try:
        yield
    except CannotMark as error:
        raise ProblemError("cannot-mark", f'"{cut(what)}" cannot be marked: {error}') from error


def answered(
    request: Request, content: str, media_type: str, policy: str, more: Mapping[str, str] | None = None
) -> Response:
    """What was made, under ``policy`` and with ``more`` headers; 304 where the client has it."""
    headers = {"etag": tag_of(__version__, content), "content-security-policy": policy, **(more or {})}
    if has_already(request, headers["etag"]):
        return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
    return Response(content, headers=headers, media_type=media_type)
