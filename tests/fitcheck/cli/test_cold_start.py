"""What keeps a cold start of the command quick; ``python -m benchmarks cold`` says how quick it is."""

from __future__ import annotations

import gc
import subprocess
import sys
from importlib.util import find_spec

import pytest

from fitcheck.cli import main
from tests.support.paths import ROOT

CASE = ROOT / "cases_demo" / "good-draught-fore.json"
NOT_FOR_ASSESSING = [
    "asyncio",
    "fastapi",
    "httpx",
    "jinja2",
    "numpy",
    "scipy",
    "shapely",
    "sqlalchemy",
    "starlette",
    "uvicorn",
    "api",
    "fitcheck.records",
    "fitcheck.stored",
    "fitcheck.report.html",
    "fitcheck.explanation.explain",
    "fitcheck.rulebooks.compare",
    "fitcheck.marking",
    "rules.analysis",
    "rules.loading.messages",
    "rules.analysis.difference",
    "rules.loading.inheritance",
    "rules.loading.translation",
    "rules.loading.marking_records",
    "rules.loading.marking",
    "rules.loading.safeguards",
    "rules.loading.texts",
]
IN_A_PROCESS_OF_ITS_OWN = """
import gc, sys
from fitcheck.cli import main
sys.argv = ["fitcheck", "assess", sys.argv[1]]
status = main()
print(status, gc.isenabled(), gc.get_freeze_count() > 0, *sys.modules, file=sys.stderr)
"""


@pytest.fixture(scope="module")
def left() -> list[str]:
    """Exit status, whether garbage is collected, whether anything is spared that, and what was imported."""
    command = [sys.executable, "-c", IN_A_PROCESS_OF_ITS_OWN, str(CASE)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stderr.split()


@pytest.mark.parametrize("module", NOT_FOR_ASSESSING)
def test_assessing_a_fitting_without_outlines_never_imports(module: str, left: list[str]) -> None:
    assert find_spec(module) is not None, "Name modules that there are"
    assert "fitcheck.assessment.assess" in left
    assert module not in left


def test_a_process_of_the_commands_own_spares_its_imports_the_search_for_garbage(left: list[str]) -> None:
    assert left[:3] == ["0", "True", "True"]


def test_the_command_called_within_another_program_leaves_its_garbage_collector_alone() -> None:
    enabled, frozen = gc.isenabled(), gc.get_freeze_count()
    assert main(["assess", str(CASE)]) == 0
    assert gc.isenabled() == enabled
    assert gc.get_freeze_count() <= frozen  # what an earlier test froze may have gone meanwhile
