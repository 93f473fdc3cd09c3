"""api.http.bodies: how a body is read from the server, part by part."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from starlette.requests import ClientDisconnect, Request
from starlette.types import Message

from api.http.bodies import read_body
from api.http.problems import ProblemError

LIMIT = 10
GONE: Message = {"type": "http.disconnect"}


def part(body: bytes, *, more: bool) -> Message:
    return {"type": "http.request", "body": body, "more_body": more}


def reading(*messages: Message, **headers: str) -> tuple[bytes, int]:
    """The body that is read from ``messages``, and how many of them were taken."""
    waiting = list(messages)

    async def receive() -> Message:
        return waiting.pop(0)

    scope: dict[str, Any] = {
        "type": "http",
        "headers": [(name.replace("_", "-").encode(), value.encode()) for name, value in headers.items()],
    }
    try:
        body = asyncio.run(read_body(Request(scope, receive), LIMIT))
    except (ProblemError, ClientDisconnect) as error:
        error.add_note(f"{len(messages) - len(waiting)} taken")
        raise
    return body, len(messages) - len(waiting)


@pytest.mark.parametrize(
    ("messages", "body"),
    [
        ([part(b"whole", more=False)], b"whole"),
        ([part(b"in ", more=True), part(b"", more=True), part(b"parts", more=False)], b"in parts"),
        ([part(b"in ", more=True), part(b"parts", more=True), part(b"", more=False)], b"in parts"),
        ([part(b"0123456789", more=False)], b"0123456789"),
        ([{"type": "http.request"}], b""),
    ],
)
def test_a_body_is_the_same_however_it_was_parted_and_nothing_after_it_is_taken(
    messages: list[Message], body: bytes
) -> None:
    assert reading(*messages, GONE) == (body, len(messages))


@pytest.mark.parametrize(
    ("messages", "taken"),
    [
        # Whole, and nothing left to read on.
        ([part(b"01234567890", more=False)], 1),
        ([part(b"01234", more=True), part(b"567890", more=False)], 2),
        # Read on to its end, so that the client gets to read the answer.
        ([part(b"01234567890", more=True), part(b"more", more=True), part(b"end", more=False)], 3),
        # No further than eight times the limit.
        ([part(b"01234567890", more=True), *[part(b"0" * 50, more=True)] * 5], 3),
    ],
)
def test_a_body_that_is_too_large_is_read_on_a_while_and_refused(messages: list[Message], taken: int) -> None:
    with pytest.raises(ProblemError) as caught:
        reading(*messages, GONE)
    assert caught.value.kind.name == "body-too-large"
    assert caught.value.__notes__ == [f"{taken} taken"]


@pytest.mark.parametrize(
    ("headers", "taken"),
    [
        ({"content_length": "11"}, 2),
        ({"content_length": "11", "expect": "100-continue"}, 0),
        ({"content_length": "81"}, 0),
    ],
)
def test_a_body_that_is_said_to_be_too_large_is_refused_unseen(headers: dict[str, str], taken: int) -> None:
    with pytest.raises(ProblemError) as caught:
        reading(part(b"01234", more=True), part(b"567890", more=False), GONE, **headers)
    assert caught.value.kind.name == "body-too-large"
    assert caught.value.__notes__ == [f"{taken} taken"]


def test_a_client_that_goes_away_has_sent_no_body() -> None:
    for messages in ([GONE], [part(b"01234", more=True), GONE], [part(b"01234567890", more=True), GONE]):
        with pytest.raises(ClientDisconnect):
            reading(*messages)
