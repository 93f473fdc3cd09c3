"""Back to the page of the desk for which somebody had to sign in: never to another site, nor to what a form sends."""

from __future__ import annotations

from typing import Annotated, Final
from urllib.parse import parse_qsl, urlencode, urlsplit

from pydantic import AfterValidator
from starlette.requests import Request

from api.desk.forms import PATHS
from api.parameters.language import LanguageQuery
from api.parameters.query import refuse

__all__ = ["SignInQuery", "page_requested"]

_PAGES: Final = frozenset(PATHS.values()) - {PATHS[name] for name in ("csv", "by_hand", "reasons", "sign_in")}
_PAGE_OF_FORM: Final = {PATHS["by_hand"]: PATHS["foot"], PATHS["reasons"]: PATHS["foot"]}
"""The page with the form that is sent to each of these; it is asked for with the same query."""
_LONGEST: Final = 2000


def page_requested(request: Request) -> str | None:
    """The page of the desk that ``request`` asks for, or whose form it sends; None where it is not one."""
    path = request.url.path
    return _page(f"{_PAGE_OF_FORM.get(path, path)}?{request.url.query}")


def _page(address: str) -> str | None:
    """The address of a page of the desk, written anew; None where it is not one."""
    if len(address) > _LONGEST:
        return None
    try:
        scheme, host, path, query, _ = urlsplit(address)
    except ValueError:
        return None
    if scheme or host or path not in _PAGES:
        return None
    parameters = urlencode(parse_qsl(query, keep_blank_values=True))
    return f"{path}?{parameters}" if parameters else path


def _known(address: str) -> str:
    page = _page(address)
    if page is None:
        detail = "It is not the address of a page of the desk. Leave it out: then the list comes first."
        refuse("back", address, "the address of a page of the desk, such as /desk/queue", detail)
    return page


class SignInQuery(LanguageQuery):
    """Where to go when the session has begun."""

    back: Annotated[str | None, AfterValidator(_known)] = None
    """The page of the desk for which a session was needed; else the list."""
