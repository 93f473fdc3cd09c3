"""An application called through ASGI in this process: its route and nothing of a server or a socket."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Iterator, MutableMapping
from contextlib import contextmanager
from typing import Any

from fastapi import FastAPI

__all__ = ["in_process"]

_Message = MutableMapping[str, Any]


@contextmanager
def in_process(app: FastAPI, path: str) -> Iterator[Callable[[Iterable[bytes]], None]]:
    """Start ``app`` and yield what posts JSON bodies to ``path``, one after another, as uvicorn hands them over.

    Raises RuntimeError when an answer is not 200.
    """
    where, _, query = path.partition("?")
    # Not asyncio.run: that minds signals, as the application does, and neither expects the other.
    loop = asyncio.new_event_loop()
    lifespan = app.router.lifespan_context(app)
    loop.run_until_complete(lifespan.__aenter__())

    async def post(body: bytes) -> None:
        answer: list[_Message] = []

        async def receive() -> _Message:
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message: _Message) -> None:
            answer.append(message)

        await app(_scope(where, query, len(body)), receive, send)
        if answer[0]["status"] != 200:  # noqa: PLR2004  (OK)
            raise RuntimeError(f"the answer was {answer[0]['status']}: {answer[1:]}")

    async def post_all(bodies: Iterable[bytes]) -> None:
        for body in bodies:
            await post(body)

    try:
        yield lambda bodies: loop.run_until_complete(post_all(bodies))
    finally:
        loop.run_until_complete(lifespan.__aexit__(None, None, None))
        loop.run_until_complete(loop.shutdown_default_executor())
        loop.close()


def _scope(path: str, query: str, length: int) -> dict[str, Any]:
    return {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "root_path": "",
        "headers": [
            (b"host", b"127.0.0.1:80"),
            (b"content-type", b"application/json"),
            (b"content-length", str(length).encode()),
        ],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
        "state": {},
    }
