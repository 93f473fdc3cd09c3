"""A real server under clients that mean harm: /healthz answers within half a second all the while."""

from __future__ import annotations

import copy
import json
import math
import os
import random
import socket
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from tests.attacks.healthz import Healthz
from tests.support.counts import tries
from tests.support.machine import Machine, Run

WITHIN_S = 0.5
"""The time within which /healthz must answer."""
GOOD = EXAMPLES[0].fitting
START = b"POST /v1/assessments%b HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/%b\r\n"
HALVES = (
    b"",
    (START % (b"", b"json"))[:40],
    START % (b"", b"json") + b"content-length: 999\r\n\r\n{",
    START % (b"/batch", b"x-ndjson") + b"transfer-encoding: chunked\r\n\r\n1\r\n{\r\n",
)
JSON = {"content-type": "application/json"}
NDJSON = {"content-type": "application/x-ndjson"}


@pytest.fixture
def machine(tmp_path: Path, root: Path) -> Machine:
    return Machine(tmp_path, root)


def tell(figures: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Show what was measured, whether or not the test holds."""
    with capsys.disabled():
        sys.stdout.write(f"\n{figures}\n")


def in_time(healthz: Healthz) -> None:
    """Nothing else may run beside a study in full; in CI only that there was an answer is held."""
    assert healthz.times
    assert healthz.failures == []
    if tries(0, full=1):
        assert max(healthz.times) < WITHIN_S


def opened(run: Run, count: int, open_: ExitStack) -> Iterator[socket.socket]:
    """So many connections, 500 a second at most, each with a part of a request."""
    address = httpx.URL(run.address)
    for number in range(count):
        with suppress(OSError):
            client = open_.enter_context(socket.create_connection((address.host, address.port or 0), timeout=5))
            client.sendall(HALVES[number % len(HALVES)])
            yield client
        time.sleep(0.002)


def zigzag(depth: float) -> list[list[float]]:
    """2,000 points that go out and in."""
    return [
        [round(radius * math.sin(angle), 3), round(radius * math.cos(angle), 3)]
        for number in range(2000)
        for angle, radius in [(math.radians(-150 + 300 * number / 1999), 70 - depth * (number % 2))]
    ]


def heights(kind: str) -> list[list[float]]:
    """2,000 heights in a bowl turned over, or on a screw."""
    seed = random.Random(4)
    if kind == "bowl":
        golden = math.pi * (3 - math.sqrt(5))
        polar = [(62 * math.sqrt((number + 0.5) / 2000), number * golden) for number in range(2000)]
        return [[radius * math.sin(a), radius * math.cos(a), 2 - radius**2 / 2000] for radius, a in polar]
    polar = [(60 + 5 * seed.random(), math.tau * number / 2000) for number in range(2000)]
    return [[radius * math.sin(a), radius * math.cos(a), n / 1000] for n, (radius, a) in enumerate(polar)]


def hostile() -> list[bytes]:
    """Bodies that are as costly as they can be."""
    fittings: list[dict[str, Any]] = []
    for hoof, shoe in ((50.0, 50.0), (0.7, 0.7), (0.0, 0.0)):
        fitting = copy.deepcopy(GOOD)
        fitting["observations"]["outline"] = {"hoof": zigzag(hoof), "shoe": zigzag(shoe), "lateral": "+x"}
        fittings.append(fitting)
    for kind in ("bowl", "screw"):
        fitting = copy.deepcopy(GOOD)
        fitting["observations"]["levelness"] = {"heights": heights(kind)}
        fittings.append(fitting)
    bodies = [json.dumps(fitting).encode() for fitting in fittings]
    many = "[" + ",".join(["[1,2,3]"] * 100_000) + "]"
    bodies.append(json.dumps(GOOD)[:-1].encode() + f', "notes": {many}}}'.encode())
    bodies.append(b'{"a":' * 20_000)
    bodies.append(("{" + ",".join(f'"{number}":{number}' for number in range(60_000)) + "}").encode())
    return bodies


@pytest.mark.long
def test_half_requests_shut_nobody_out_and_fill_no_log(machine: Machine, capsys: pytest.CaptureFixture[str]) -> None:
    """As many as there are, where the process may open 256 files."""
    healthz = Healthz()
    count = tries(200, full=2_000)
    with machine.serving(files=256) as run, healthz.asked(run.address), ExitStack() as open_:
        clients = list(opened(run, count, open_))
        time.sleep(tries(1, full=30))
        with httpx.Client(base_url=run.address) as client:
            assert client.post("/v1/assessments", json=GOOD).status_code == 201
        again = list(opened(run, count, open_))
        time.sleep(tries(1, full=30))
    size = run.log.stat().st_size
    tell(
        f"{len(clients)} and {len(again)} half requests: {healthz}, log {size} bytes",
        capsys,
    )
    assert len(clients) == len(again) == count
    in_time(healthz)
    assert size < 400 * (len(healthz.times) + 2 * count) + 50_000


@pytest.mark.long
def test_costly_fittings_hold_up_nobody(machine: Machine, capsys: pytest.CaptureFixture[str]) -> None:
    """Four clients send them on and on."""
    healthz = Healthz()
    bodies = hostile()
    rounds = tries(1, full=10)

    def send(number: int) -> list[tuple[int, float]]:
        answers = []
        with httpx.Client(base_url=run.address, timeout=120) as client:
            for turn in range(rounds):
                for body in bodies[number:] + bodies[:number]:
                    begin = time.monotonic()
                    explain = "true" if turn % 2 else "false"
                    path = f"/v1/assessments?keep=false&explain={explain}"
                    answers.append(
                        (client.post(path, content=body, headers=JSON).status_code, time.monotonic() - begin)
                    )
        return answers

    with machine.serving() as run:
        httpx.post(f"{run.address}/v1/assessments?keep=false", content=bodies[1], headers=JSON, timeout=60)
        with healthz.asked(run.address), ThreadPoolExecutor(4) as pool:
            answers = [each for part in pool.map(send, range(4)) for each in part]
    tell(
        f"{len(answers)} costly fittings: {healthz}, "
        f"the longest took {max(took for _, took in answers):.1f} s; {sorted({status for status, _ in answers})}",
        capsys,
    )
    assert {status for status, _ in answers} <= {200, 400, 422, 503}
    in_time(healthz)


def batch_of(content: bytes, run: Run) -> tuple[int, float]:
    """The bytes of the answer to a batch, and how long it took."""
    begin = time.monotonic()
    answer = httpx.post(f"{run.address}/v1/assessments/batch", content=content, headers=NDJSON, timeout=600)
    assert answer.status_code == 200
    return len(answer.content), time.monotonic() - begin


@pytest.mark.long
def test_batches_of_blank_and_of_faulty_lines_are_soon_over(
    machine: Machine, capsys: pytest.CaptureFixture[str]
) -> None:
    healthz = Healthz()
    mib = tries(1, full=100)
    with machine.serving() as run, healthz.asked(run.address):
        _, blank = batch_of(b"\n" * (mib << 20), run)
        size, faulty = batch_of(b"1\n" * 1_000_000, run)
    tell(f"{mib} MiB of blank lines {blank:.1f} s; 2 MB of faults {faulty:.1f} s and {size} bytes; {healthz}", capsys)
    in_time(healthz)
    assert size < 2_000_000
    if tries(0, full=1):
        assert blank < 10


def processor_time(run: Run) -> float:
    """Seconds of processor time that the service has used."""
    fields = Path(f"/proc/{run.process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@pytest.mark.long
def test_whoever_sends_a_batch_and_leaves_is_worked_for_no_longer(
    machine: Machine, capsys: pytest.CaptureFixture[str]
) -> None:
    healthz = Healthz()
    line = json.dumps(GOOD).encode() + b"\n"
    with machine.serving() as run, healthz.asked(run.address):
        address = httpx.URL(run.address)
        for _ in range(tries(2, full=20)):
            with socket.create_connection((address.host, address.port or 0), timeout=5) as client:
                client.settimeout(0.5)
                client.sendall(
                    b"POST /v1/assessments/batch HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/x-ndjson\r\n"
                    b"content-length: 900000000\r\n\r\n"
                )
                with suppress(TimeoutError):
                    for _ in range(tries(5_000, full=20_000)):
                        client.sendall(line)
        time.sleep(3)
        before = processor_time(run)
        time.sleep(3)
        used = processor_time(run) - before
    tell(f"after all have left, {used:.2f} s of 3 s in use; {healthz}", capsys)
    in_time(healthz)
    assert used < 1
