"""Schemathesis reads the OpenAPI document and asks for all that it allows, and for much that it does not.

It is run as its own program against a real server, first on one that has never had a key, then with a key.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from fitcheck.records import open_store, verify
from fitcheck.records.keys import AccessKeys
from tests.endurance.databases import address_in
from tests.endurance.report import Report
from tests.endurance.service import ROOT, Service

__all__ = ["FULL", "PHASES", "WAYS", "run"]

FULL: Final = 300
WAYS: Final = ("open", "key")
PHASES: Final = ("examples", "coverage", "fuzzing", "stateful")
_CHECKS: Final = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "unsupported_method",
    "allow_header_conformance",
    "use_after_free",
)
"""Not whether what was made can be found: with keep=false an assessment has an id and is nowhere."""
_WITH_KEY: Final = (*_CHECKS, "ignored_auth")
_SHOWN: Final = 6000


def run(
    count: int, database: str, folder: Path, seed: int, *, ways: Sequence[str] = WAYS, phases: Sequence[str] = PHASES
) -> Report:
    """Have at most ``count`` requests made up for each operation in each phase.

    ``ways``: without and with a key; the coverage phase, of everything that the schema allows or forbids, does not
    depend on ``count``.
    """
    report = Report(f"schema: {count} of each operation, {database}, seed {seed}")
    begin = time.monotonic()
    for way in ways:
        place = folder / way
        place.mkdir()
        with address_in(database, place) as url, Service(place, url) as service:
            header: tuple[str, ...] = ()
            if way == "key":
                with open_store(url) as store:
                    _, token = AccessKeys(store).make("Low Meadow", ("admin",))
                header = ("-H", f"Authorization: Bearer {token.text}")
            service.start("--rate", "0")
            checks = _WITH_KEY if header else _CHECKS
            options = ["--checks", ",".join(checks), "--phases", ",".join(phases), *header]
            said = _tried(service.address, place, count, seed, options)
            service.stop()
            report.faults += [f"{way}: {fault}" for fault in (*said.faults, *service.errors())]
            report.figures |= {f"{way}: {name}": value for name, value in said.figures.items()}
            with open_store(url, create=False) as store:
                report.faults += [f"verify: {fault}" for fault in verify(store)]
                report.figures[f"{way}: records"] = store.head().number
    report.figures["seconds"] = time.monotonic() - begin
    return report


def _tried(address: str, folder: Path, count: int, seed: int, options: Sequence[str]) -> Report:
    """What Schemathesis says of the service at ``address``."""
    (folder / "schemathesis.toml").write_text("", encoding="utf-8")  # nothing of the folders above
    command = [sys.executable, "-m", "schemathesis.cli", "--config-file", "schemathesis.toml", "--no-color", "run"]
    command += [f"{address}/openapi.json", "--max-examples", str(count), "--seed", str(seed), "--no-shrink"]
    command += ["--continue-on-failure", "--suppress-health-check", "all", "--request-timeout", "120", *options]
    done = subprocess.run(
        command,
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT), "SCHEMATHESIS_HOOKS": "tests.endurance.schemathesis_hooks"},
        check=False,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    report = Report("schemathesis")
    if found := re.search(r"(\d+) generated", done.stdout):
        report.figures["requests"] = int(found[1])
    if done.returncode != 0 or not found:
        (folder / "schemathesis.txt").write_text(done.stdout, encoding="utf-8")
        report.fault(f"Schemathesis ends with {done.returncode}:\n{done.stdout[-_SHOWN:]}")
    return report
