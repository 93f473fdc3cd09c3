"""What is answered does not hang on how Python orders its sets, which differs from process to process."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Final

from tests.support.paths import ROOT

ANSWERS: Final = """
import hashlib
from fitcheck import assess
from fitcheck.fitting.models import Fitting
from tests.support.random_fittings import random_fittings
for each in random_fittings(21, 32):
    answer = assess(Fitting.model_validate(each)).model_dump_json(exclude={"id", "created"})
    print(hashlib.sha256(answer.encode()).hexdigest())
"""


def answers(seed: str) -> list[str]:
    """Digests of the answers to thirty-two fittings by a process whose sets are ordered by ``seed``."""
    environment = os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path])}
    ran = subprocess.run(
        [sys.executable, "-c", ANSWERS], env=environment, check=True, capture_output=True, text=True, cwd=ROOT
    )
    return ran.stdout.split()


def test_answers_are_the_same_whatever_the_order_of_sets() -> None:
    """With seeds 1 and 5 the readings that joined findings share come in different orders."""
    one, other = answers("1"), answers("5")
    assert len(one) == 32
    assert one == other
