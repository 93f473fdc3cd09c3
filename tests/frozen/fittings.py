"""What the tool says of 2,000 random fittings with fixed seeds, fifty to a digest: plain, explained and in German.

Most are random fittings of the contract, also such as cannot be assessed; on every second block of them no nail is
close, so that lesser findings decide. The others are demo feet with outlines or heights whose points were moved.
Beside them stand the fittings that the tables of limit cases can be written as.
"""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from itertools import count, islice
from pathlib import Path
from typing import Any, Final

from fitcheck.assessment.assess import assess
from fitcheck.errors import BadInput
from fitcheck.explanation.explain import explain
from fitcheck.fitting.validation import parse_fitting
from rules import localized, shipped_rulebook
from tests.frozen.normal import normal_json
from tests.support.limit_cases import load
from tests.support.paths import ROOT
from tests.support.random_fittings import random_fittings
from tests.support.whole_fittings import as_fitting

__all__ = ["BLOCK", "SOURCES", "block", "fitting_answers"]

BLOCK: Final = 50
SOURCES: Final = {"random": 28, "traced": 12, "limits": 16}
"""Where fittings come from, with the number of blocks of each."""


def fitting_answers() -> Iterator[tuple[str, str]]:
    """Every block of every source."""
    for source, blocks in SOURCES.items():
        for number in range(blocks):
            yield f"{source}.{number:02}", block(source, number)


def block(source: str, number: int) -> str:
    """What the tool says of one block of fittings."""
    makers = {"random": _random, "limits": _at_limits, "traced": _traced}
    return "\n".join(_answers(fitting) for fitting in makers[source](number))


def _answers(document: dict[str, Any]) -> str:
    try:
        fitting = parse_fitting(document)
        parts = [assess(fitting), explain(fitting), assess(fitting, localized(shipped_rulebook(), "de"))]
    except BadInput as error:
        return normal_json([problem.as_dict() for problem in error.problems])
    return "\n".join(normal_json(part.model_dump(mode="json")) for part in parts)


def _random(number: int) -> Iterator[dict[str, Any]]:
    for fitting in random_fittings(4000 + number, BLOCK):
        if number % 2:
            for nail in fitting["observations"].get("nails", ()):
                nail |= {"reaction": "none", "blood": False, "sound": "firm"}
        yield fitting


def _at_limits(number: int) -> Iterator[dict[str, Any]]:
    """Every sixteenth of the fittings that limit cases can be written as."""
    made = (as_fitting(case) for path in _tables() for case in load(path))
    yield from islice((fitting for fitting in made if fitting is not None), number, None, SOURCES["limits"])


def _tables() -> list[Path]:
    return sorted(path for path in (ROOT / "tests" / "cases").glob("*.toml") if path.stem not in {"fittings", "grades"})


def _traced(number: int) -> Iterator[dict[str, Any]]:
    """Demo feet with outlines or heights, every coordinate moved by up to half a millimetre or so."""
    feet = [
        json.loads(path.read_text(encoding="utf-8"))
        for path in sorted((ROOT / "cases_demo").glob("*.json"))
        if path.name.startswith(("traced", "measured")) and not path.name.endswith(".answer.json")
    ]
    rng = random.Random(6000 + number)
    for at in islice(count(number), BLOCK):
        foot = copy.deepcopy(feet[at % len(feet)])
        spread = rng.choice((0.05, 0.2, 0.5))
        observations = foot["observations"]
        outline = observations.get("outline", {})
        for points in (outline.get("hoof"), outline.get("shoe"), outline.get("nail_holes")):
            for point in points or ():
                point[:] = [round(value + rng.gauss(0, spread), 3) for value in point]
        for point in observations.get("levelness", {}).get("heights") or ():
            point[2] = round(point[2] + rng.gauss(0, 0.1), 3)
        yield foot
