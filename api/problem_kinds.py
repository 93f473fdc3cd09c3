"""The kinds of problem that the service answers with: RFC 9457 problem types, each with its explanation."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus
from typing import Final

__all__ = ["KINDS", "Kind", "kind_of_status"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One problem type: its ``name`` in the type's address, its title, HTTP status and what to do about it."""

    name: str
    title: str
    status: int
    meaning: str

    @property
    def type(self) -> str:
        """The problem type as a reference relative to this service."""
        return f"/problems/{self.name}" if self.name else "about:blank"


KINDS: Final = {
    kind.name: kind
    for kind in (
        Kind(
            "bad-json",
            "Not strict JSON",
            HTTPStatus.BAD_REQUEST,
            "The body is not one JSON document that every reader takes alike (RFC 8259). Besides syntax faults "
            "these are refused: text that is not UTF-8 or starts with a byte order mark, duplicate keys, NaN and "
            "infinity, numbers too large or too long, half characters, and objects nested too deep. The problem "
            "names the place. Nothing was assessed. Correct the text and send it again.",
        ),
        Kind(
            "bad-query",
            "Unknown or wrong query parameter",
            HTTPStatus.BAD_REQUEST,
            "The address has a query parameter that is unknown here, given twice, or has a value that is not "
            "allowed. Nothing was assessed. Correct the address and send the request again.",
        ),
        Kind(
            "unauthorized",
            "Access key needed",
            HTTPStatus.UNAUTHORIZED,
            "This address needs an access key, and what was sent shows none, or one that is wrong or was revoked. "
            "Those who run the service make keys with the command fitcheck keys make. Send the key with each request, "
            "in the header Authorization: Bearer KEY. Without any key, a service answers only the machine that it runs "
            "on. Nothing was assessed.",
        ),
        Kind(
            "forbidden",
            "Key without the scope needed",
            HTTPStatus.FORBIDDEN,
            "The access key is good, but not for this address. The problem says which scope the address needs and "
            "which ones the key has. Use another key, or ask those who run the service for one. Nothing was assessed.",
        ),
        Kind(
            "cross-origin",
            "Sent by a page of another origin",
            HTTPStatus.FORBIDDEN,
            "A browser sent this for a page that does not belong to this service. A service that runs without access "
            "keys takes that from none, so that no page can use it behind the back of whoever looks at it. Nothing was "
            "assessed. Have your own program send the request, with an access key.",
        ),
        Kind(
            "not-found",
            "Nothing at this address",
            HTTPStatus.NOT_FOUND,
            "There is nothing at this address. All addresses stand in /docs and in /openapi.json; the ids of the "
            "rules stand in /v1/rulebook.",
        ),
        Kind(
            "method-not-allowed",
            "Method not allowed at this address",
            HTTPStatus.METHOD_NOT_ALLOWED,
            "This address does not take this method. The header Allow lists those that it takes.",
        ),
        Kind(
            "body-too-large",
            "Body too large",
            HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
            "The body of a single fitting, or one line of a batch, has more bytes than the service takes. The "
            "problem says how many it takes. A fitting needs far less; send many fittings as a batch, one to a "
            "line.",
        ),
        Kind(
            "wrong-host",
            "Not the host that was asked for",
            HTTPStatus.MISDIRECTED_REQUEST,
            "The header Host names a host that this service does not answer for. A service that runs without access "
            "keys answers only for names of the machine itself, such as localhost and 127.0.0.1, so that no page of "
            "another site can pass for it. Ask for one of these, or make an access key.",
        ),
        Kind(
            "too-many-requests",
            "Too many requests",
            HTTPStatus.TOO_MANY_REQUESTS,
            "This key, or this address where no key was shown, sends requests faster than the service allows over "
            "time. Nothing was assessed. Wait for the seconds in the header Retry-After, send the request again, and "
            "send many fittings as one batch, which counts as one request.",
        ),
        Kind(
            "unsupported-media-type",
            "Content type not supported",
            HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
            "The header Content-Type is missing or names something else than what is read here, another charset "
            "than utf-8, or the body is compressed. Send a single fitting as application/json and a batch as "
            "application/x-ndjson, in UTF-8, uncompressed.",
        ),
        Kind(
            "bad-input",
            "The fitting cannot be assessed",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The body is JSON, but not a fitting: a key is missing or unknown, a word or a reading is not one "
            "that is known, a number lies outside what is possible, or two statements contradict one another. "
            "Each entry of errors names the field, the value found there, what is allowed and what to do. Nothing "
            "was assessed.",
        ),
        Kind(
            "not-assessed",
            "Could not be assessed",
            HTTPStatus.INTERNAL_SERVER_ERROR,
            "The rules could not be run to their end, so there is no assessment of this foot: it is not released. "
            "This is a fault of the service, not of the fitting. Judge the foot by eye and hand, and give the id "
            "of the instance to those who run the service.",
        ),
        Kind(
            "internal-error",
            "The service failed",
            HTTPStatus.INTERNAL_SERVER_ERROR,
            "The service failed in a way that it was not made for. No foot was released. Give the id of the "
            "instance to those who run the service.",
        ),
        Kind(
            "not-ready",
            "Not ready",
            HTTPStatus.SERVICE_UNAVAILABLE,
            "The service runs, but its own check of the rules has failed, so it should be sent no fittings. Give "
            "the id of the instance to those who run the service.",
        ),
        Kind(
            "store-unavailable",
            "Records cannot be reached",
            HTTPStatus.SERVICE_UNAVAILABLE,
            "What the service keeps, its access keys among it, cannot be read or written just now. Nothing was kept, "
            "and there is no assessment. Send the request again, after the seconds in the header Retry-After where "
            "there is one; if that does not help, give the id of the instance to those who run the service.",
        ),
    )
}
"""Every kind by its name."""


def kind_of_status(status: int) -> Kind:
    """A kind for an HTTP status that has none of its own."""
    try:
        phrase = HTTPStatus(status).phrase
    except ValueError:
        phrase = "Problem"
    return Kind("", phrase, status, "")
