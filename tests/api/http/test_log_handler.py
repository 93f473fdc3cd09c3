"""What is said again and again is written some times, and then counted."""

from __future__ import annotations

import io
import json
import logging

from api.http.log import JsonLines, LogHandler
from api.http.log import _requests as requests


def test_what_repeats_itself_is_counted_and_the_rest_is_written() -> None:
    now = [0.0]
    handler = LogHandler(most=3, clock=lambda: now[0])
    out = io.StringIO()
    handler.setStream(out)
    handler.setFormatter(JsonLines())

    def say(name: str, message: str, *arguments: object) -> None:
        handler.handle(logging.LogRecord(name, logging.ERROR, "", 0, message, arguments, None))

    for number in range(1000):
        say("asyncio", f"socket.accept() out of system resource\nsocket: {number}")
        say("api", "request %d failed", number)
    say("api", "another")
    say(requests.name, '{"message": "request"}')
    lines = [json.loads(line) for line in out.getvalue().splitlines()]
    assert [line["message"] for line in lines if "failed" in line["message"]] == [
        f"request {number} failed" for number in range(3)
    ]
    assert len(lines) == 3 + 3 + 2
    now[0] = 61.0
    say("api", "request %d failed", 1000)
    told = [json.loads(line)["message"] for line in out.getvalue().splitlines()[8:]]
    assert told == [
        "said 997 times more within a minute: socket.accept() out of system resource",
        "said 997 times more within a minute: request %d failed",
        "request 1000 failed",
    ]


def test_every_request_has_its_line_and_what_is_left_is_told_in_the_end() -> None:
    handler = LogHandler(most=1)
    out = io.StringIO()
    handler.setStream(out)
    for name in (requests.name, "api"):
        for _ in range(50):
            handler.handle(logging.LogRecord(name, logging.INFO, "", 0, "the same", None, None))
    handler.close()
    assert out.getvalue().splitlines() == ["the same"] * 51 + ["said 49 times more within a minute: the same"]
