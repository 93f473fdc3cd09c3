"""What routes on kept feet have in common: the foot by its id, and how a page or picture made of it is answered."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from http import HTTPStatus
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response

from api.kept_record import assessment_record, has_already, tag_of
from api.kept_routes import EXAMPLE_ID
from api.openapi import REQUEST_ID_HEADER
from api.problem_details import ProblemError
from fitcheck import __version__
from fitcheck.desk import CannotMark, KeptFoot, Unreadable, foot_of
from fitcheck.records import Store
from fitcheck.strict_json import cut
from rules import Rulebook

__all__ = [
    "ASSESSMENT_ID",
    "HTML",
    "IF_NONE_MATCH",
    "NOT_MODIFIED",
    "SVG",
    "SVG_POLICY",
    "TAGGED",
    "answered",
    "foot_kept",
    "markable",
    "readable",
]

HTML: Final = "text/html"
SVG: Final = "image/svg+xml"
SVG_POLICY: Final = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; sandbox"
"""What a picture that is opened by itself may load or run: nothing, and it belongs to no origin."""
_ETAG: Final = {"description": "Another where the answer is another.", "schema": {"type": "string"}}
TAGGED: Final = {**REQUEST_ID_HEADER, "ETag": _ETAG}
NOT_MODIFIED: Final[dict[int | str, dict[str, Any]]] = {
    HTTPStatus.NOT_MODIFIED.value: {
        "description": "You have it already: it is the one of If-None-Match.",
        "headers": TAGGED,
    }
}
ASSESSMENT_ID: Final[dict[str, Any]] = {
    "name": "id",
    "in": "path",
    "required": True,
    "description": "The assessment's id.",
    "schema": {"type": "string"},
    "example": EXAMPLE_ID,
}
IF_NONE_MATCH: Final[dict[str, Any]] = {
    "name": "If-None-Match",
    "in": "header",
    "required": False,
    "description": "ETags of what you have.",
    "schema": {"type": "string"},
}


def foot_kept(store: Store, id_: str, book: Rulebook) -> KeptFoot:
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
        detail = f'The assessment "{cut(id_)}" was written in a way that this version does not read.'
        raise ProblemError("cannot-show", detail) from error


@contextmanager
def markable(what: str) -> Iterator[None]:
    """What is marked in the block is ``what``: ProblemError of kind cannot-mark where the scheme does not fit it."""
    try:
        yield
    except CannotMark as error:
        raise ProblemError("cannot-mark", f'"{cut(what)}" cannot be marked: {error}') from error


def answered(request: Request, content: str, media_type: str, policy: str) -> Response:
    """What was made, under ``policy``; 304 where the client has it."""
    headers = {"etag": tag_of(__version__, content), "content-security-policy": policy}
    if has_already(request, headers["etag"]):
        return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
    return Response(content, headers=headers, media_type=media_type)
