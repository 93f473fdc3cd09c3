"""Demo fittings as a yard would have kept them: assessed, with the very bytes that came and went."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from itertools import count, cycle, islice

from fitcheck.assessment.assess import assess
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Draft, draft_of
from tests.support.paths import ROOT

__all__ = ["demo_bodies", "kept_fittings"]

_CASES = ROOT / "cases_demo"
_OF_THE_FIRST = ROOT / "tests" / "contract_one" / "feet"
"""The demo feet that a client of the first contract could send."""


@cache
def demo_bodies() -> tuple[bytes, ...]:
    """The demo fittings as their files have them, with line breaks and all; those of the first contract come first."""
    found = (path for path in _CASES.glob("*.json") if not path.name.endswith(".answer.json"))
    files = sorted(found, key=lambda path: (not (_OF_THE_FIRST / path.name).exists(), path.name))
    bodies = tuple(path.read_bytes() for path in files)
    return tuple(body for body in bodies if "observations" in json.loads(body))


def kept_fittings(number: int) -> Iterator[Draft]:
    """That many drafts, each of a horse of its own."""
    for at, body in islice(zip(count(1), cycle(demo_bodies()), strict=False), number):
        document = json.loads(body) | {"horse": {"id": f"H-{at}"}, "visit": f"=visit {at}"}
        raw = json.dumps(document, indent=1, ensure_ascii=False).encode()
        fitting = parse_fitting(document)
        yield draft_of(raw, fitting, assess(fitting))
