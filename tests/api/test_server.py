"""The service as it is run: a real server in a process of its own, asked by many clients at once over loopback."""

from __future__ import annotations

import asyncio
import json
import random
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from tests.support.counts import tries
from tests.support.machine import Machine

CLIENTS = 64
REQUESTS = tries(320, full=3_200)
FEET = ("left_fore", "right_fore", "left_hind", "right_hind")
GOOD = EXAMPLES[0].fitting
TEXT = json.dumps(GOOD)
JSON = {"content-type": "application/json"}


@pytest.fixture(scope="module")
def server(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a service that runs for this module; at the end it must stop by itself with nothing to regret."""
    with Machine(tmp_path_factory.mktemp("server"), root).serving("--rate", "0") as run:
        yield run.address
    lines = run.lines()
    assert "Application shutdown complete." in [line["message"] for line in lines]
    assert [line for line in lines if line["level"] in {"error", "critical"}] == []


class Request(NamedTuple):
    """A request that no other is like, and the check that an answer is the answer to it."""

    path: str
    body: bytes
    headers: dict[str, str]
    check: Callable[[httpx.Response], None]


def right(number: int, seed: random.Random) -> Request:
    """A good fitting with a length and a foot of its own."""
    foot, length = FEET[number % 4], round(8 + number / 1000, 4)
    fitting = json.loads(TEXT) | {"foot": foot}
    fitting["observations"]["heel_fit"]["medial"]["length"] = length
    keep = seed.choice(["", "?keep=false", "?keep=true"])

    def check(response: httpx.Response) -> None:
        assert response.status_code == (200 if keep == "?keep=false" else 201)
        answer = response.json()
        [told] = [
            each["value"]
            for each in answer["measurements"]
            if (each["quantity"], each["place"]) == ("length", "medial_heel")
        ]
        assert (answer["foot"], told) == (foot, length)

    return Request(f"/v1/assessments{keep}", json.dumps(fitting).encode(), JSON, check)


def wrong(number: int, seed: random.Random) -> Request:
    """A bad request whose fault has a name and a value of its own."""
    bodies: list[tuple[int, str, Any, str]] = [
        (422, f"key{number}", number, json.dumps(GOOD | {f"key{number}": number})),
        (422, "foot", f"foot{number}", json.dumps(GOOD | {"foot": f"foot{number}"})),
        (422, "shoe.thickness", 1000 + number, json.dumps(GOOD | {"shoe": {"thickness": 1000 + number}})),
        (400, "(document)", f"twice{number}", TEXT[:-1] + f', "twice{number}": 1, "twice{number}": 2}}'),
        (400, f"at{number}", "NaN", TEXT[:-1] + f', "at{number}": NaN}}'),
        (400, f"at{number}", f"1e{400 + number}", TEXT[:-1] + f', "at{number}": 1e{400 + number}}}'),
        (400, f"at{number}", "9" * 40 + "…", TEXT[:-1] + f', "at{number}": {"9" * (200 + number)}}}'),
        (400, "(document)", None, TEXT[: 1 + number % (len(TEXT) - 1)]),
        (422, "(document)", f"a list of {number}", json.dumps([0] * number)),
    ]
    status, field, value, body = seed.choice(bodies)

    def check(response: httpx.Response) -> None:
        assert response.status_code == status
        [error] = response.json()["errors"]
        assert (error["field"], error["value"]) == (field, value)

    return Request("/v1/assessments", body.encode(), JSON, check)


def unread(number: int, _seed: random.Random) -> Request:
    """A request whose content type or query is refused, by a name of its own."""
    if number % 2:
        name, status = f"text/x-{number}", 415
        path, headers = "/v1/assessments", {"content-type": name}
    else:
        name, status = str(number), 400
        path, headers = f"/v1/assessments?keep={number}", JSON

    def check(response: httpx.Response) -> None:
        assert response.status_code == status
        [error] = response.json()["errors"]
        assert error["value"] == name

    return Request(path, TEXT.encode(), headers, check)


def test_many_clients_at_once_each_get_the_answer_to_their_own_request(server: str) -> None:
    seed = random.Random(64)
    kinds = [right, right, right, wrong, wrong, unread]
    requests = [seed.choice(kinds)(number, seed) for number in range(1, REQUESTS + 1)]
    answers: list[tuple[Request, httpx.Response]] = []

    async def run() -> None:
        waiting = iter(requests)
        # Its own five seconds end a connection that has just been given a request, where this process was kept waiting.
        limits = httpx.Limits(max_connections=CLIENTS, max_keepalive_connections=CLIENTS, keepalive_expiry=None)
        async with httpx.AsyncClient(base_url=server, limits=limits, timeout=60) as client:

            async def work() -> None:
                for request in waiting:
                    response = await client.post(request.path, content=request.body, headers=request.headers)
                    answers.append((request, response))

            await asyncio.gather(*(work() for _ in range(CLIENTS)))

    asyncio.run(run())
    assert len(answers) == REQUESTS
    assert [response.status_code for _, response in answers if response.status_code >= 500] == []
    for request, response in answers:
        request.check(response)
    assert len({response.headers["x-request-id"] for _, response in answers}) == REQUESTS
    assert {response.status_code for _, response in answers} == {200, 201, 400, 415, 422}


@pytest.mark.parametrize("length", ["announced", "unknown"])
def test_a_body_of_two_megabytes_is_refused_with_an_answer_that_can_be_read(server: str, length: str) -> None:
    body = b" " * 2_000_000
    content = body if length == "announced" else (body[start : start + 50_000] for start in range(0, len(body), 50_000))
    response = httpx.post(f"{server}/v1/assessments", content=content, headers=JSON)
    assert (response.status_code, response.json()["type"]) == (413, "/problems/body-too-large")


def test_a_client_that_asks_first_need_not_send_a_body_that_is_too_large(server: str) -> None:
    with connection(server) as client:
        client.sendall(
            head("/v1/assessments", "application/json", b"Content-Length: 2000000\r\nExpect: 100-continue\r\n")
        )
        assert client.recv(65536).startswith(b"HTTP/1.1 413 ")


def connection(server: str) -> socket.socket:
    address = httpx.URL(server)
    client = socket.create_connection((address.host, address.port or 0), timeout=20)
    client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return client


def head(path: str, content_type: str, more: bytes) -> bytes:
    return f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: {content_type}\r\n".encode() + more + b"\r\n"


def test_a_batch_is_answered_line_by_line_while_it_is_being_sent_in_odd_pieces(server: str) -> None:
    lines = [TEXT, "{", TEXT.replace("left_fore", "right_hind"), '{"foot": NaN}', TEXT]
    with connection(server) as client:
        client.sendall(head("/v1/assessments/batch", "application/x-ndjson", b"Transfer-Encoding: chunked\r\n"))
        heard = b""
        for number, line in enumerate(lines, 1):
            raw = line.encode() + b"\r\n"
            for start in range(0, len(raw), 97):
                piece = raw[start : start + 97]
                client.sendall(f"{len(piece):x}\r\n".encode() + piece + b"\r\n")
            # The next line is not sent before this one has been answered.
            while f'{{"line":{number},'.encode() not in heard:
                heard += client.recv(65536)
        client.sendall(b"0\r\n\r\n")
        while not heard.endswith(b"\r\n0\r\n\r\n"):
            heard += client.recv(65536)
    assert heard.count(b'"assessment":{') == 3
    assert heard.count(b'"problem":{') == 2


@pytest.mark.long
def test_a_batch_that_is_sent_whole_before_it_is_read_is_answered_whole(server: str) -> None:
    count = 2_000
    body = b'{"foot": "left_fore", "stage": "nailed", "work": "draught", "observations": {}}\n' * count
    with connection(server) as client:
        length = f"Content-Length: {len(body)}\r\nConnection: close\r\n".encode()
        client.sendall(head("/v1/assessments/batch", "application/x-ndjson", length) + body)
        heard = b"".join(iter(lambda: client.recv(1 << 20), b""))
    assert heard.count(b'{"line":') == count
    assert f'{{"line":{count},'.encode() in heard


@pytest.mark.parametrize(
    "request_",
    [
        head("/v1/assessments", "application/json", b"Content-Length: 500\r\n") + b'{"foot":',
        head("/v1/assessments/batch", "application/x-ndjson", b"Content-Length: 500000\r\n") + b"[]\n" * 1000,
        head("/v1/assessments/batch", "application/x-ndjson", b"Transfer-Encoding: chunked\r\n") + b"5\r\nab",
    ],
    ids=["in a body", "in a batch", "in a piece"],
)
def test_a_client_that_goes_away_half_way_harms_nobody_else(server: str, request_: bytes) -> None:
    for _ in range(20):
        with connection(server) as client:
            client.sendall(request_)
    assert httpx.post(f"{server}/v1/assessments", json=GOOD).json()["decision"] == "go_on"


def test_wrong_methods_and_unknown_addresses_are_problems_over_the_wire_too(server: str) -> None:
    wrong_method = httpx.put(f"{server}/v1/assessments", json=GOOD)
    assert (wrong_method.status_code, wrong_method.headers["allow"]) == (405, "GET, HEAD, OPTIONS, POST")
    unknown = httpx.get(f"{server}/v1/horses")
    assert unknown.status_code == 404
    for response in (wrong_method, unknown):
        assert response.headers["content-type"] == "application/problem+json"
    head_only = httpx.head(f"{server}/v1/rulebook")
    assert (head_only.status_code, head_only.content) == (200, b"")
    assert int(head_only.headers["content-length"]) > 10_000
