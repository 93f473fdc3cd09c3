"""Whether a request is let in: by its access key, or without keys because it comes from this machine alone."""

from __future__ import annotations

import re
from typing import Final

from starlette.types import Scope

from api.http.key_cache import KeyChecks
from api.http.local_only import refuse_unless_local
from api.http.metrics import count_rate_limited
from api.http.problems import ProblemError
from api.http.rate_limit import RateLimit, client_of
from api.http.request_notes import note_of
from api.http.session_cookie import session_in_cookie
from fitcheck.errors import Problem
from fitcheck.fitting.validation import summary
from fitcheck.records.keys import AccessKey, Token
from fitcheck.records.sessions import SessionToken
from fitcheck.settings import ServiceSettings
from fitcheck.vocabulary import now

__all__ = ["Authenticator", "key_of", "require_own_name", "require_scope", "session_of"]

_ACCESS_KEY: Final = "access_key"
_SESSION: Final = "desk_session"
_READING: Final = frozenset({"GET", "HEAD"})
_OVER: Final = "The session at the desk is over. Sign in again at /desk/sign-in."

_BEARER: Final = re.compile(r"bearer +([A-Za-z0-9._~+/-]+=*)", re.ASCII | re.IGNORECASE)
"""RFC 6750, 2.1."""
_CHALLENGE: Final = 'Bearer realm="fitcheck"'
_FORM: Final = "Bearer and an access key"
_HOW: Final = "Send the header Authorization: Bearer KEY, with a key that `fitcheck keys make` has printed."


class Authenticator:
    """Lets requests in or ends them with ProblemError; ``keys`` is None where there is no store to keep keys in."""

    def __init__(self, settings: ServiceSettings, keys: KeyChecks | None = None) -> None:
        self._settings = settings
        self._keys = keys
        self._limit = RateLimit(settings.rate, settings.burst)

    async def admit(self, scope: Scope, needed: str | None, *, by_session: bool = False) -> None:
        """Let the request in ``scope`` in to a route that needs the scope ``needed``, or that is open to all (None).

        A session shows its key for reading, and ``by_session`` for what the route changes.

        Raises ProblemError of kind unauthorized, forbidden, too-many-requests, wrong-host or cross-origin, and
        StoreError where a key cannot be checked.
        """
        if needed is None:
            # What is open to all must answer even while the store does not.
            if self._settings.keys_required or (self._keys is not None and self._keys.made):
                self._take(_client(scope))
            return
        if not self._settings.keys_required and (self._keys is None or not await self._keys.any_made()):
            refuse_unless_local(scope)
            return
        client = _client(scope)
        key = await self._key(scope, client, by_session=by_session or scope["method"] in _READING)
        note_of(scope).key = key.id
        if key.revoked is not None:
            self._take(client)
            raise _unauthorized(f"This key was revoked at {key.revoked}. Use another one.", "invalid_token")
        if key.ended(now()):
            self._take(client)
            raise _unauthorized(f"The last day of this key was {key.until}. Use another one.", "invalid_token")
        self._take(key.id)
        if not key.opens(needed):
            raise _forbidden(key, needed)
        scope["state"][_ACCESS_KEY] = key

    async def _key(self, scope: Scope, client: str, *, by_session: bool) -> AccessKey:
        """The key that the request shows, revoked or not; a wrong one, and one to be looked up, count for ``client``.

        Raises ProblemError.
        """
        authorizations = [value for name, value in scope["headers"] if name == b"authorization"]
        session = session_in_cookie(scope, self._settings) if by_session and not authorizations else None
        if session is not None:
            token = session if isinstance(session, SessionToken) else None
            return await self._checked(scope, client, token, _OVER)
        if not authorizations:
            self._take(client)
            raise _unauthorized(f"This address needs an access key. {_HOW}")
        form = _BEARER.fullmatch(authorizations[0].decode("latin-1")) if len(authorizations) == 1 else None
        shown = form and Token.read(form[1])
        if shown is None:
            self._take(client)
            raise _unauthorized(f"What the header Authorization shows is not an access key. {_HOW}", "invalid_token")
        return await self._checked(scope, client, shown, f"There is no such access key. {_HOW}")

    async def _checked(self, scope: Scope, client: str, token: Token | SessionToken | None, wrong: str) -> AccessKey:
        """The key of ``token``; a ProblemError that says ``wrong`` where there is none.

        A session that is to change something is looked up each time: one that is over changes nothing from then on.
        """
        writing = isinstance(token, SessionToken) and scope["method"] not in _READING
        known, key = (True, None)
        if token is not None and self._keys is not None:
            known, key = (False, None) if writing else self._keys.known(token)
        if not known or key is None:
            self._take(client)
        if not known and token is not None and self._keys is not None:
            key = await self._keys.look_up(token)
        if key is None:
            raise _unauthorized(wrong, "invalid_token")
        if isinstance(token, SessionToken):
            scope["state"][_SESSION] = token
        return key

    def _take(self, name: str) -> None:
        if wait := self._limit.take(name):
            count_rate_limited()
            raise ProblemError(
                "too-many-requests",
                f"Requests come faster than {self._settings.rate:g} a second. Wait {wait} s, then send it again.",
                headers={"retry-after": str(wait)},
            )


def session_of(scope: Scope) -> SessionToken | None:
    """The session of the desk that let the request in; None where a header did, or where no key is needed."""
    session: SessionToken | None = scope["state"].get(_SESSION)
    return session


def key_of(scope: Scope) -> AccessKey | None:
    """The key that let the request in; None where no key is needed."""
    key: AccessKey | None = scope["state"].get(_ACCESS_KEY)
    return key


def require_scope(scope: Scope, needed: str) -> None:
    """Refuse a request whose key does not open ``needed`` besides what its route asks for. Raises ProblemError."""
    key = key_of(scope)
    if key is not None and not key.opens(needed):
        raise _forbidden(key, needed)


def require_own_name(scope: Scope, person: str, field: str) -> None:
    """Refuse what is said in the name of another ``person`` than the one whose key let the request in.

    A service without access keys, which answers its own machine alone, takes any name.  Raises ProblemError of kind
    not-in-own-name.
    """
    key = key_of(scope)
    if key is None or key.person == person:
        return
    if key.person is None:
        whose, allowed = "belongs to a device, which marks in nobody's name", "a key made with --person"
    else:
        whose, allowed = f"is that of {key.person}", key.person
    detail = f"This key {whose}. Marks are overridden in one's own name alone: use the key of the person named."
    raise ProblemError("not-in-own-name", f"{field}: {detail}", [Problem(field, summary(person), allowed, detail)])


def _client(scope: Scope) -> str:
    address = scope.get("client") or ("",)
    return client_of(address[0])


def _unauthorized(detail: str, error: str | None = None) -> ProblemError:
    """The problem and the challenge that HTTP demands with it; it never repeats what was sent."""
    challenge = _CHALLENGE if error is None else f'{_CHALLENGE}, error="{error}"'
    fault = Problem("header.authorization", None, _FORM, detail)
    return ProblemError("unauthorized", detail, [fault], {"www-authenticate": challenge})


def _forbidden(key: AccessKey, needed: str) -> ProblemError:
    has = " and ".join(sorted(key.scopes))
    detail = (
        f'This address needs the scope "{needed}", which this key does not have: it has {has}. Use a key made with '
        f"--scope {needed}."
    )
    challenge = f'{_CHALLENGE}, error="insufficient_scope", scope="{needed}"'
    return ProblemError("forbidden", detail, headers={"www-authenticate": challenge})
