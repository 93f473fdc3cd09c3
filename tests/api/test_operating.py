"""What examples/operating offers an operator, tried: the unit by systemd's own check, the proxy by a real nginx."""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from fitcheck.cli import main
from fitcheck.records import open_store
from fitcheck.records.keys import AccessKeys
from tests.support.paths import ROOT

OFFERED = ROOT / "examples" / "operating"


def test_systemd_finds_nothing_wrong_with_the_unit(tmp_path: Path) -> None:
    checker = shutil.which("systemd-analyze")
    assert checker, "install systemd: apt-get install systemd"
    text = (OFFERED / "fitcheck.service").read_text(encoding="utf-8")
    program = re.search(r"^ExecStart=(\S+)", text, re.MULTILINE)
    assert program
    unit = tmp_path / "fitcheck.service"
    # What it names must be there for the check, and is not on this machine.
    unit.write_text(text.replace(program[1], sys.executable).replace("User=fitcheck", "User=root"), encoding="utf-8")
    done = subprocess.run([checker, "verify", "--man=no", str(unit)], capture_output=True, text=True, check=False)
    assert (done.returncode, [line for line in done.stderr.splitlines() if "fitcheck.service" in line]) == (0, [])


def test_the_unit_starts_the_service_with_options_that_it_has() -> None:
    text = (OFFERED / "fitcheck.service").read_text(encoding="utf-8")
    command = re.search(r"^ExecStart=\S+ (.+)$", text, re.MULTILINE)
    assert command
    told = subprocess.run(
        [sys.executable, "-m", "fitcheck", "serve", "--help"], capture_output=True, text=True, check=True
    )
    for option in re.findall(r"--[\w-]+", command[1]):
        assert option in told.stdout


def test_the_service_keeps_a_connection_longer_than_the_proxy_does(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else a request meets, now and then, a connection that is just being closed."""
    kept = re.search(
        r"^ +keepalive_timeout (\d+)s;$", (OFFERED / "nginx.conf").read_text(encoding="utf-8"), re.MULTILINE
    )
    assert kept
    run: list[dict[str, Any]] = []
    monkeypatch.setattr("uvicorn.run", lambda *_, **settings: run.append(settings))
    assert main(["serve"]) == 0
    assert run[0]["timeout_keep_alive"] > int(kept[1])


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port


def certificate(folder: Path) -> None:
    """A certificate of its own making for localhost, with its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "localhost")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .sign(key, hashes.SHA256())
    )
    (folder / "certificate.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    (folder / "key.pem").write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )


@contextmanager
def running(command: list[str], port: int, folder: Path, **more: Any) -> Iterator[None]:
    """A process that listens on ``port``, for as long as the block runs."""
    with (folder / "log").open("ab") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log, **more)
    try:
        patience = time.monotonic() + 30
        while True:
            assert process.poll() is None, (folder / "log").read_text()
            assert time.monotonic() < patience, (folder / "log").read_text()
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        yield
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(30)


@pytest.fixture(scope="module")
def front(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str, str, Path]]:
    """The address of nginx, that of the service behind it, a key, and the certificate."""
    nginx = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    assert nginx, "install nginx: apt-get install nginx"
    folder = tmp_path_factory.mktemp("nginx")
    certificate(folder)
    records = f"sqlite:///{folder / 'records.db'}"
    with open_store(records) as store:
        _, key = AccessKeys(store).make("tablet", ["assess", "read"])
    behind, outside = free_port(), free_port()
    site = (OFFERED / "nginx.conf").read_text(encoding="utf-8")
    for there, here in (
        ("127.0.0.1:8750", f"127.0.0.1:{behind}"),
        ("listen 443 ssl", f"listen 127.0.0.1:{outside} ssl"),
        ("yard.example", "localhost"),
        ("/etc/ssl/fitcheck", str(folder)),
    ):
        assert there in site
        site = site.replace(there, here)
    temporary = "".join(
        f"{kind}_temp_path {folder}/{kind};\n" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    whole = f"pid {folder}/pid;\nerror_log stderr;\nevents {{}}\nhttp {{\naccess_log off;\n{temporary}{site}}}\n"
    (folder / "nginx.conf").write_text(whole, encoding="utf-8")
    serve = [sys.executable, "-m", "fitcheck", "serve", "--host", "127.0.0.1", "--port", str(behind)]
    options = ["--records", records, "--keys-required", "--trust-proxy", "127.0.0.1", "--behind-tls", "--rate", "20"]
    with (
        running([*serve, *options], behind, folder, cwd=ROOT),
        running([nginx, "-c", str(folder / "nginx.conf"), "-g", "daemon off;"], outside, folder),
    ):
        yield f"https://localhost:{outside}", f"http://127.0.0.1:{behind}", key.text, folder / "certificate.pem"


@pytest.fixture
def client(front: tuple[str, str, str, Path]) -> Iterator[httpx.Client]:
    address, _, _, trusted = front
    import ssl  # noqa: PLC0415

    with httpx.Client(base_url=address, verify=ssl.create_default_context(cafile=trusted)) as asking:
        yield asking


def test_a_key_opens_over_tls_and_without_one_nothing_does(
    client: httpx.Client, front: tuple[str, str, str, Path], good: dict[str, Any]
) -> None:
    bearer = {"authorization": f"Bearer {front[2]}"}
    kept = client.post("/v1/assessments", json=good, headers=bearer)
    assert kept.status_code == 201
    assert client.get(kept.headers["location"], headers=bearer).json()["decision"] == kept.json()["decision"]
    assert client.post("/v1/assessments", json=good).status_code == 401
    assert kept.headers["strict-transport-security"].startswith("max-age=")


def test_a_batch_goes_through_line_by_line(
    client: httpx.Client, front: tuple[str, str, str, Path], good: dict[str, Any]
) -> None:
    lines = b"\n".join([json.dumps(good).encode()] * 30)
    headers = {"authorization": f"Bearer {front[2]}", "content-type": "application/x-ndjson"}
    answer = client.post("/v1/assessments/batch", content=lines, headers=headers)
    assert [json.loads(line)["line"] for line in answer.text.splitlines()] == list(range(1, 31))


def test_the_page_is_there(client: httpx.Client) -> None:
    answer = client.get("/")
    assert answer.status_code == 200
    assert "content-security-policy" in answer.headers


def test_guesses_count_for_the_client_and_not_for_what_it_claims_to_be(client: httpx.Client) -> None:
    statuses = [
        client.get(
            "/v1/rulebook", headers={"authorization": "Bearer wrong", "x-forwarded-for": f"203.0.113.{number % 250}"}
        ).status_code
        for number in range(320)
    ]
    assert set(statuses) == {401, 429}
