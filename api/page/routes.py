"""GET / and /practice, their service worker and its files: open to all, for they hold nothing but the page."""

from __future__ import annotations

from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import ProblemError
from api.http.route_scopes import open_to_all
from api.http.standing_content import StandingContent
from api.page.shell import ROOT, WORKER, Shell, shipped_shell

__all__ = ["add_page", "policy_of"]

_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src {style}; img-src 'self' blob: data:; connect-src 'self'; "
    "worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_ASK_AGAIN: Final = "no-cache"
_FOR_EVER: Final = "public, max-age=31536000, immutable"


def policy_of(shell: Shell) -> str:
    """What the page may load and run: files of this service, its one style sheet, pictures chosen on the telephone."""
    return _POLICY.format(style=shell.style_source)


def add_page(app: FastAPI, shell: Shell | None = None) -> None:
    """Add the page of ``shell``, the shipped one by default.

    The page and its worker are requested again each time and cost 304 where nothing has changed; the files stand under
    an address with the version in it and are never asked for twice.
    """
    shown = shell or shipped_shell()
    policy = policy_of(shown)

    @open_to_all
    async def show_page(request: Request) -> Response:
        return _answer(request, shown.pages[request.url.path], _ASK_AGAIN, {"content-security-policy": policy})

    @open_to_all
    async def show_worker(request: Request) -> Response:
        # A worker is held to the policy of its own answer.
        return _answer(request, shown.worker, _ASK_AGAIN, {"content-security-policy": policy})

    @open_to_all
    async def show_file(request: Request) -> Response:
        found = shown.files.get(request.path_params["path"])
        if found is None or request.path_params["version"] != shown.version:
            raise ProblemError("not-found", "There is no such file of the page. Load / again.")
        return _answer(request, found, _FOR_EVER, {})

    for path, answers in (
        *((path, show_page) for path in shown.pages),
        (f"/{WORKER}", show_worker),
        (f"{ROOT}/{{version}}/{{path:path}}", show_file),
    ):
        app.add_route(path, answers, methods=["GET"], include_in_schema=False)


def _answer(request: Request, file: StandingContent, caching: str, headers: dict[str, str]) -> Response:
    """The file, or 304 where the browser has it."""
    return file.answer(request, {"cache-control": caching, **headers})
