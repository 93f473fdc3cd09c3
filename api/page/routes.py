"""GET /, its service worker and its files: open to all, for they hold nothing but the page."""

from __future__ import annotations

from http import HTTPStatus
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import ProblemError
from api.http.route_scopes import open_to_all
from api.page.shell import ROOT, WORKER, File, Shell, shipped_shell

__all__ = ["POLICY", "add_page"]

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; "
    "worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""What the page may load and run: files of this service, and pictures that were chosen on the telephone."""
_ASK_AGAIN: Final = "no-cache"
_FOR_EVER: Final = "public, max-age=31536000, immutable"


def add_page(app: FastAPI, shell: Shell | None = None) -> None:
    """Add the page of ``shell``, the shipped one by default.

    The page and its worker are requested again each time and cost 304 where nothing has changed; the files stand under
    an address with the version in it and are never asked for twice.
    """
    shown = shell or shipped_shell()

    @open_to_all
    async def show_page(request: Request) -> Response:
        return _answer(request, shown.page, _ASK_AGAIN, {"content-security-policy": POLICY})

    @open_to_all
    async def show_worker(request: Request) -> Response:
        # A worker is held to the policy of its own answer.
        return _answer(request, shown.worker, _ASK_AGAIN, {"content-security-policy": POLICY})

    @open_to_all
    async def show_file(request: Request) -> Response:
        found = shown.files.get(request.path_params["path"])
        if found is None or request.path_params["version"] != shown.version:
            raise ProblemError("not-found", "There is no such file of the page. Load / again.")
        return _answer(request, found, _FOR_EVER, {})

    for path, answers in (
        ("/", show_page),
        (f"/{WORKER}", show_worker),
        (f"{ROOT}/{{version}}/{{path:path}}", show_file),
    ):
        app.add_route(path, answers, methods=["GET"], include_in_schema=False)


def _answer(request: Request, file: File, caching: str, headers: dict[str, str]) -> Response:
    """The file, or 304 where the browser has it."""
    headers = {"etag": file.etag, "cache-control": caching, **headers}
    tags = ", ".join(request.headers.getlist("if-none-match"))
    if file.etag in tags or tags.strip() == "*":
        return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
    return Response(file.content, headers=headers, media_type=file.media_type)
