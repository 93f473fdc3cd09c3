"""The long versions of tests: the same checks, tried as often as before a release, and those that take long.

``python -m tests.studies`` runs every study in full, ``python -m tests.studies NAME…`` those that are named, and
``--tenth`` a tenth of each. Seeds are fixed. ``--list`` names them. ``--long``: only
those with tests that README's command leaves out. CI has no time for any of them.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from typing import Final

from tests.support.databases import DATABASE

STUDIES: Final[dict[str, tuple[str, ...]]] = {
    "frozen": ("tests/test_frozen.py",),
    "second-evaluator": ("tests/reference/test_second_evaluator.py",),
    "uncertainties": (
        "tests/reference/test_outline.py",
        "tests/reference/test_levelness.py",
        "tests/reference/test_height_noise.py",
        "tests/reference/test_trace_error.py",
    ),
    "photographs": ("tests/reference/test_photographs.py", "tests/api/page/test_plane.py"),
    "rulebooks": ("tests/rules/analysis/test_random_rulebooks.py", "tests/rules/analysis/test_analysis.py"),
    "engine": ("tests/rules/engine/test_prefilter.py", "tests/rules/engine/test_durable_process.py"),
    "bad-feet": ("tests/fitcheck/assessment/test_bad_feet.py",),
    "explanations": ("tests/fitcheck/explanation/test_explain.py",),
    "worse-reading": ("tests/fitcheck/measure/test_worse_reading.py",),
    "gross-faults": ("tests/fitcheck/assessment/test_gross_faults.py",),
    "observables": ("tests/fitcheck/fitting/test_observables.py",),
    "contract-one": (
        "tests/contract_one/test_corpus.py",
        "tests/contract_one/test_openapi.py",
    ),
    "practice": ("tests/fitcheck/practice/test_people.py",),
    "trends": ("tests/fitcheck/marking/test_progress.py",),
    "eye": ("tests/fitcheck/eye",),
    "strict-json": ("tests/fitcheck/fitting/test_strict_json_properties.py",),
}
"""Tests that try more often in a study, by its name."""

LONG: Final[dict[str, tuple[str, ...]]] = {
    "eye": ("tests/fitcheck/eye",),
    "server": ("tests/api",),
    "records": ("tests/fitcheck/records", "tests/fitcheck/stored"),
    "endurance": ("tests/endurance",),
    "benchmarks": ("tests/benchmarks",),
    "bulk": ("tests/fitcheck/bulk",),
}
"""Folders with tests that take long, by the name of the study; of these only such tests are run."""

ALONE: Final[dict[str, tuple[str, ...]]] = {
    "attacks": ("tests/attacks",),
    "browser": ("tests/browser",),
    "first-look": ("tests/browser/test_first_look.py",),
}
"""The same, one test after another and none beside them.

Attacks measure how long the service takes to answer; all in a browser share one browser and one server.
"""

ON_POSTGRESQL: Final[dict[str, tuple[str, ...]]] = {"service-on-postgresql": ("tests/api",)}
"""What is otherwise tried on SQLite alone, the service with its keys, its desk and its subscriptions among it."""


def main() -> int:
    """Run the command line; returns the exit status of pytest."""
    parser = argparse.ArgumentParser(prog="python -m tests.studies", description=__doc__)
    every = STUDIES | LONG | ALONE | ON_POSTGRESQL
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of: {', '.join(every)}; all without one")
    parser.add_argument("--tenth", action="store_true", help="a tenth of each")
    parser.add_argument("--long", action="store_true", help="only those with tests that README's command leaves out")
    parser.add_argument("--list", action="store_true", help="name the studies and what they run")
    options = parser.parse_args()
    if options.list:
        for name in every:
            where = dict.fromkeys(
                path for studies in (STUDIES, LONG, ALONE, ON_POSTGRESQL) for path in studies.get(name, ())
            )
            print(f"{name:<18} {' '.join(where)}")
        return 0
    unknown = set(options.names) - set(every)
    if unknown:
        parser.error(f"no study {', '.join(sorted(unknown))}; there are {', '.join(every)}")
    names = options.names or list(LONG | ALONE if options.long else every)
    environment = os.environ | {"FITCHECK_TESTS": "tenth" if options.tenth else "full"}
    status = 0
    together = ("-n", "4", "--dist", "loadfile")
    runs: tuple[tuple[dict[str, tuple[str, ...]], tuple[str, ...], dict[str, str]], ...] = (
        (STUDIES, together, {}),
        (LONG, (*together, "-m", "long"), {}),
        (ALONE, ("-m", "long"), {}),
        (ON_POSTGRESQL, together, {DATABASE: "postgresql"}),
    )
    for studies, how, setting in runs:
        paths = [path for name in names for path in studies.get(name, ())]
        if paths:
            command = [sys.executable, "-m", "pytest", "-q", *how, *paths]
            status = max(status, subprocess.run(command, env=environment | setting, check=False).returncode)
    return status


if __name__ == "__main__":
    sys.exit(main())
