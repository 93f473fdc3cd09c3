"""One request's work without HTTP, step by step, each fitting from end to end so that caches are as cold as in life."""

from __future__ import annotations

import time
from collections import defaultdict
from typing import Final

from fitcheck.assessment.assess import assess, measurements_of
from fitcheck.assessment.completeness import completeness_of
from fitcheck.assessment.findings import build_findings
from fitcheck.assessment.joint import standing
from fitcheck.assessment.models import Assessment
from fitcheck.assessment.too_uncertain import too_uncertain
from fitcheck.fitting.readings import readings_of, situation_of
from fitcheck.fitting.strict_json import loads
from fitcheck.fitting.validation import parse_fitting
from fitcheck.measure import measured
from rules import Rulebook, evaluator_for, table_of, verify

__all__ = ["PARTS", "READING", "VALIDATING", "WHOLE", "WRITING", "Steps"]

READING: Final = "reading the JSON strictly"
VALIDATING: Final = "validating"
WHOLE: Final = "the assessment"
WRITING: Final = "writing the JSON"
PARTS: Final = (
    "observing",
    "measures",
    "engine",
    "verification",
    "findings",
    "completeness, not assessed, conforms",
    "numbers shown",
)
"""The parts of an assessment that are taken one by one; the rest is what the whole takes beyond them."""


class _Watch:
    """Seconds spent in each step so far."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = defaultdict(float)
        self.start()

    def start(self) -> None:
        self._since = time.perf_counter()

    def lap(self, step: str) -> None:
        self.spent[step] += time.perf_counter() - self._since
        self._since = time.perf_counter()


class Steps:
    """All ``bodies`` through the steps by ``book``; each turn adds its seconds for each step to ``turns``."""

    def __init__(self, bodies: list[bytes], book: Rulebook) -> None:
        self._bodies = bodies
        self._book = book
        self._answers = [assess(parse_fitting(loads(body), book), book) for body in bodies]
        self.turns: dict[str, list[float]] = defaultdict(list)

    def whole(self, times: int) -> None:
        """From bytes to bytes, the assessment as one step; ``times`` over all bodies."""
        watch, book = _Watch(), self._book
        for body in self._bodies * times:
            watch.start()
            document = loads(body)
            watch.lap(READING)
            fitting = parse_fitting(document, book)
            watch.lap(VALIDATING)
            assessment = assess(fitting, book)
            watch.lap(WHOLE)
            assessment.model_dump_json()
            watch.lap(WRITING)
        self._note(watch)

    def parts(self, times: int) -> None:
        """The parts of the assessment, between the same reading and writing; ``times`` over all bodies."""
        watch = _Watch()
        for body, answer in zip(self._bodies * times, self._answers * times, strict=True):
            self._one(body, watch)
            answer.model_dump_json()
        self._note(watch)

    def check(self) -> None:
        """Raises ValueError where the parts, one by one, do not come to what the assessment says."""
        for body, answer in zip(self._bodies, self._answers, strict=True):
            if self._one(body, _Watch()) != _told(answer):
                raise ValueError("the steps are no longer those of the assessment")

    def _one(self, body: bytes, watch: _Watch) -> tuple[object, ...]:
        book = self._book
        fitting = parse_fitting(loads(body), book)
        watch.start()
        situation = situation_of(fitting, book)
        stated = table_of(readings_of(fitting, book))
        watch.lap(PARTS[0])
        table, _ = measured(fitting, stated, book)
        watch.lap(PARTS[1])
        firings = evaluator_for(book).evaluate(situation, table)
        watch.lap(PARTS[2])
        verify(firings, table, situation, book)
        watch.lap(PARTS[3])
        firings, chances = standing(firings, table, stated, situation, book)
        findings = build_findings(firings, chances, table, fitting.stage, book)
        watch.lap(PARTS[4])
        unsure = too_uncertain(table, firings, situation, book)
        counting = {key: reading for key, reading in table.items() if key not in unsure} if unsure else table
        completeness = completeness_of(fitting, situation, counting, book)
        still_needed, not_assessed = completeness.still_needed(), completeness.not_assessed
        conforms = completeness.conforms(firings)
        watch.lap(PARTS[5])
        measurements = measurements_of(table.values(), book)
        watch.lap(PARTS[6])
        return tuple(findings), still_needed, not_assessed, conforms, tuple(measurements)

    def _note(self, watch: _Watch) -> None:
        for step, seconds in watch.spent.items():
            self.turns[step].append(seconds)


def _told(answer: Assessment) -> tuple[object, ...]:
    return answer.findings, answer.still_needed, answer.not_assessed, answer.conforms, answer.measurements
