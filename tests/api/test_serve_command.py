"""``fitcheck serve`` as it is run: who may bind where, what the log says and what it never says, and the counts."""

from __future__ import annotations

import os
import re
import signal
import socket
import time
from pathlib import Path

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from tests.support.machine import EVERYWHERE, STARTS_WITHIN_S, Machine, Run

GOOD = EXAMPLES[0].fitting
NOTES = "white sock on the near hind"


@pytest.fixture
def machine(tmp_path: Path, root: Path) -> Machine:
    return Machine(tmp_path, root)


@pytest.mark.parametrize("host", [EVERYWHERE, "::", "192.0.2.7", "low-meadow.test"])
def test_no_other_machine_is_answered_before_there_is_a_key(machine: Machine, host: str) -> None:
    refused = machine.command("serve", "--host", host, "--port", "0")
    assert (refused.returncode, refused.stdout) == (64, "")
    assert refused.stderr.startswith(f"fitcheck serve: The service does not start on {host}, ")
    assert "fitcheck keys make" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_a_key_that_was_revoked_is_none(machine: Machine) -> None:
    token = machine.key("admin")
    assert machine.command("keys", "revoke", token.split("_")[1]).returncode == 0
    for options in (("--host", EVERYWHERE), ("--keys-required",), ("--trust-proxy", "192.0.2.1")):
        assert machine.command("serve", "--port", "0", *options).returncode == 64


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--trust-proxy", "*"), "'\\*' is no IP address or network"),
        (("--trust-proxy", "low-meadow.test"), "is no IP address or network"),
        (("--workers", "0"), "there must be 1 at least"),
        (("--rate", "-1"), "write a number of requests a second"),
        (("--rate", "nan"), "write a number of requests a second"),
        (("--records", "low-meadow"), "not the address of a record store"),
    ],
)
def test_options_that_make_no_sense_are_refused_in_a_sentence(
    machine: Machine, options: tuple[str, ...], says: str
) -> None:
    refused = machine.command("serve", "--port", "0", *options)
    assert refused.returncode in {64, 70}
    assert re.search(says, refused.stderr)
    assert "Traceback" not in refused.stderr


def test_with_a_key_other_machines_are_answered_and_only_with_it(machine: Machine) -> None:
    token = machine.key("read")
    with machine.serving("--host", EVERYWHERE) as run:
        assert httpx.get(f"{run.address}/v1/rulebook").status_code == 401
        answer = httpx.get(f"{run.address}/v1/rulebook", headers={"authorization": f"Bearer {token}"})
        assert answer.status_code == 200
        assert "server" not in answer.headers


def test_on_its_own_machine_it_answers_without_keys_but_no_page_of_another_name(machine: Machine) -> None:
    with machine.serving() as run:
        assert httpx.post(f"{run.address}/v1/assessments?keep=false", json=GOOD).json()["decision"] == "go_on"
        rebound = httpx.get(f"{run.address}/v1/rulebook", headers={"host": "low-meadow.test"})
        assert rebound.status_code == 421
        forged = httpx.get(f"{run.address}/v1/rulebook", headers={"x-forwarded-for": "127.0.0.1"})
        assert forged.status_code == 401


def test_no_secret_gets_into_the_log_and_every_request_has_its_line(machine: Machine) -> None:
    token = machine.key("assess", "read")
    guess = f"hoof_0123456789ab_{'Q' * 43}"
    with machine.serving() as run:
        with httpx.Client(base_url=run.address, headers={"authorization": f"Bearer {token}"}) as client:
            client.post("/v1/assessments?keep=false", json=GOOD | {"notes": NOTES})
            client.post("/v1/assessments", json=GOOD | {"notes": NOTES, "foot": "sekrit-foot"})
            client.post("/v1/assessments?sekrit-query=1", json=GOOD)
            client.get("/v1/rulebook/rules/sekrit-rule", headers={"x-request-id": "yard-7"})
            client.get("/sekrit-path")
            client.get("/v1/rulebook", headers={"authorization": f"Bearer {guess}"})
            client.get(f"/v1/rulebook?access_token={token}", headers={"authorization": ""})
            client.request("SEKRIT", "/v1/rulebook")
            client.get("/metrics")
        address = httpx.URL(run.address)
        with socket.create_connection((address.host, address.port or 0), timeout=20) as raw:
            raw.sendall(f"GET /{token} HTTP/1.1\r\nAuthorization {token}\r\n\r\n".encode())
            assert raw.recv(65536).startswith(b"HTTP/1.1 400 ")
        lines = run.requests(9)
        key_id = token.split("_")[1]
        assert [(line["method"], line["route"], line["status"], line["key"]) for line in lines[:9]] == [
            ("POST", "/v1/assessments", 200, key_id),
            ("POST", "/v1/assessments", 422, key_id),
            ("POST", "/v1/assessments", 400, key_id),
            ("GET", "/v1/rulebook/rules/{id}", 404, key_id),
            ("GET", "(none)", 404, None),
            ("GET", "/v1/rulebook", 401, None),
            ("GET", "/v1/rulebook", 401, None),
            ("(other)", "(none)", 405, None),
            ("GET", "/metrics", 403, key_id),
        ]
        for line in lines:
            assert set(line) == {
                "time",
                "level",
                "logger",
                "message",
                "request_id",
                "method",
                "route",
                "status",
                "ms",
                "key",
            }
            assert 0 < line["ms"] < 60_000
        assert lines[3]["request_id"] == "yard-7"
    said = run.log.read_text(encoding="ascii")
    for secret in (token, token.rpartition(key_id)[2], guess, NOTES, "sekrit", "SEKRIT", "H-101", '127.0.0.1"'):
        assert secret not in said
    for line in run.lines():
        assert line.keys() >= {"time", "level", "logger", "message"}
    # The audit has them too, after the service has ended.
    uses = machine.command("keys", "uses", key_id).stdout.splitlines()[1:]
    assert [use.split()[2:5] for use in reversed(uses)] == [
        ["200", "POST", "/v1/assessments"],
        ["422", "POST", "/v1/assessments"],
        ["400", "POST", "/v1/assessments"],
        ["404", "GET", "/v1/rulebook/rules/{id}"],
        ["403", "GET", "/metrics"],
    ]
    assert token not in machine.command("keys", "list").stdout


@pytest.mark.long
def test_a_proxy_is_believed_about_the_client_only_where_it_is_trusted(machine: Machine) -> None:
    """Guesses from one client use up its share; what a proxy says of another client makes it another."""
    machine.key("read")

    def statuses(run: Run) -> list[int]:
        return [
            httpx.get(f"{run.address}/docs", headers={"x-forwarded-for": f"198.51.100.{number}"}).status_code
            for number in range(4)
        ]

    with machine.serving("--rate", "0.001", "--trust-proxy", "127.0.0.1", FITCHECK_BURST="2") as run:
        assert statuses(run) == [200] * 4
    with machine.serving("--rate", "0.001", "--keys-required", FITCHECK_BURST="2") as run:
        assert statuses(run) == [200, 200, 429, 429]


@pytest.mark.long
def test_several_server_processes_show_their_counts_together_and_leave_nothing_behind(machine: Machine) -> None:
    token = machine.key("assess", "metrics")
    headers = {"authorization": f"Bearer {token}"}
    count = 40
    with machine.serving(workers=2, TMPDIR=str(machine.folder)) as run:
        for _ in range(count):
            # A connection of its own each time, so that both processes get some.
            assert httpx.post(f"{run.address}/v1/assessments?keep=false", json=GOOD, headers=headers).status_code == 200
        for _ in range(4):
            counts = httpx.get(f"{run.address}/metrics", headers=headers).text
            assert f'fitcheck_assessments_total{{decision="go_on"}} {count}.0' in counts
            assert f'route="/v1/assessments",status="200"}} {count}.0' in counts
        [folder] = machine.folder.glob("fitcheck-counts-*")
        assert any(folder.iterdir())
    assert not folder.exists()
    uses = machine.command("keys", "uses", "--limit", "1000").stdout.splitlines()[1:]
    assert len(uses) == count + 4


def test_a_key_is_refused_within_seconds_of_being_revoked_while_the_service_runs(machine: Machine) -> None:
    token = machine.key("read")
    headers = {"authorization": f"Bearer {token}"}
    with machine.serving(workers=2) as run:
        assert httpx.get(f"{run.address}/v1/rulebook", headers=headers).status_code == 200
        assert machine.command("keys", "revoke", token.split("_")[1]).returncode == 0
        time.sleep(5.1)
        for _ in range(6):
            assert httpx.get(f"{run.address}/v1/rulebook", headers=headers).status_code == 401


def test_server_processes_end_when_their_supervisor_is_killed(machine: Machine) -> None:
    with machine.serving(workers=2, expect=frozenset({-signal.SIGKILL})) as run:
        assert httpx.get(f"{run.address}/healthz").status_code == 200
        os.kill(run.process, signal.SIGKILL)
        patience = time.monotonic() + STARTS_WITHIN_S
        while run.log.read_text().count("Application shutdown complete") < 2:
            assert time.monotonic() < patience, run.log.read_text()
            time.sleep(0.05)
        with pytest.raises(httpx.ConnectError):
            httpx.get(f"{run.address}/healthz")


def test_a_process_that_is_started_in_the_place_of_another_makes_no_new_store(machine: Machine) -> None:
    """A worker is killed after the file was removed: the one in its place must not keep in a new file."""
    file, aside = machine.folder / "records.sqlite3", machine.folder / "aside"
    with machine.serving(workers=2) as run, httpx.Client() as client:
        id_ = client.post(f"{run.address}/v1/assessments", json=GOOD).json()["id"]
        aside.mkdir()
        for path in machine.folder.glob(f"{file.name}*"):
            path.rename(aside / path.name)
        one, _ = re.findall(r"Started server process \[(\d+)\]", run.log.read_text())
        os.kill(int(one), signal.SIGKILL)
        patience = time.monotonic() + 2 * STARTS_WITHIN_S
        while run.log.read_text().count("Application startup complete") < 3:
            assert time.monotonic() < patience, run.log.read_text()
            time.sleep(0.05)
        for _ in range(4):
            assert httpx.post(f"{run.address}/v1/assessments", json=GOOD).status_code == 503
            assert httpx.get(f"{run.address}/readyz").status_code == 503
        assert not file.exists()
        for path in aside.iterdir():
            path.rename(machine.folder / path.name)
        patience = time.monotonic() + 2 * STARTS_WITHIN_S
        while any(httpx.get(f"{run.address}/readyz").status_code != 200 for _ in range(4)):
            assert time.monotonic() < patience, run.log.read_text()
            time.sleep(0.5)
        assert httpx.get(f"{run.address}/v1/assessments/{id_}").status_code == 200


def test_a_session_of_the_desk_holds_in_every_process_and_ends_with_its_key_and_by_signing_out(
    machine: Machine,
) -> None:
    key, other = machine.key("read"), machine.key("read")
    with machine.serving(workers=2) as run, httpx.Client(base_url=run.address) as one, httpx.Client() as two:
        two.base_url = httpx.URL(run.address)
        for client, shown in ((one, key), (two, other)):
            assert client.post("/desk/sign-in", data={"key": shown}).status_code == 303
            assert {client.get("/desk").status_code for _ in range(6)} == {200}
        session = one.cookies["fitcheck-session"]
        assert one.post("/desk/sign-out").status_code == 303
        assert "fitcheck-session" not in one.cookies
        assert machine.command("keys", "revoke", other.split("_")[1]).returncode == 0
        time.sleep(5.1)
        for _ in range(6):
            assert two.get("/desk").status_code == 401
            assert (
                httpx.get(f"{run.address}/desk", headers={"cookie": f"fitcheck-session={session}"}).status_code == 401
            )
    assert session not in (machine.folder / "log").read_text(encoding="utf-8")
