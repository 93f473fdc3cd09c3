"""A full assessment against what any service would pay: validating the fitting and writing the answer as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from benchmarks.harness import Bound, Result, by_turns, documents, middle, typical_answer
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting

__all__ = ["QUICK", "Sizes", "run"]

MOST: Final = 6.5
"""How many times validation and serialisation a full assessment may take."""

_HOW: Final = (
    "{fittings} fittings without outlines. Validation is `Fitting.model_validate` of the parsed document, "
    "serialisation `Assessment.model_dump_json` of each fitting's own assessment, made beforehand; the full assessment "
    "is validation, `assess` and serialisation. By turns over all fittings, {rounds} rounds; medians."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many fittings, and how many rounds over them."""

    fittings: int = 500
    rounds: int = 9


QUICK: Final = Sizes(fittings=100, rounds=5)


def run(sizes: Sizes) -> Result:
    """Measure by turns."""
    given = documents(sizes.fittings)
    fitted = [Fitting.model_validate(document) for document in given]
    answers = [assess(fitting) for fitting in fitted]

    def full() -> None:
        for document in given:
            assess(Fitting.model_validate(document)).model_dump_json()

    def alone() -> None:
        for fitting in fitted:
            assess(fitting)

    def both_ends() -> None:
        for document, answer in zip(given, answers, strict=True):
            Fitting.model_validate(document)
            answer.model_dump_json()

    seconds = by_turns({"full": full, "alone": alone, "ends": both_ends}, sizes.rounds)
    full_us, alone_us, ends_us = (middle(seconds[name]) / len(given) * 1e6 for name in ("full", "alone", "ends"))
    size = len(typical_answer(fitted[:100]))
    return Result(
        "assess",
        "A full assessment",
        _HOW.format(fittings=sizes.fittings, rounds=sizes.rounds),
        (
            ("validation, assessment and serialisation", f"{full_us:,.0f} µs"),
            ("the assessment alone", f"{alone_us:,.0f} µs ({alone_us / ends_us:.2f})"),
            ("validation and serialisation", f"{ends_us:,.0f} µs"),
            ("an answer of middle length", f"{size:,} bytes of JSON"),
        ),
        (Bound("full against validation and serialisation", full_us / ends_us, most=MOST),),
        ("pydantic", "durable-rules"),
    )
