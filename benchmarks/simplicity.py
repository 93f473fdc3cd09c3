"""What plain code costs, and what each trick that is kept saves: the whole assessment with and without it."""

from __future__ import annotations

import dataclasses
import json
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.resources import files
from typing import Final
from unittest import mock

from benchmarks.assessing import QUICK, Sizes
from benchmarks.harness import Result, by_turns, documents, middle
from fitcheck.assessment import examine
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.strict_json import loads
from rules import Rulebook, shipped_rulebook
from rules.engine import facts
from rules.loading.files import read_texts

__all__ = ["QUICK", "Sizes", "run"]

_HOW: Final = (
    "The whole assessment (validation, `assess`, serialisation) of {fittings} fittings without outlines as it is, and "
    "with one part changed: without the check of the engine's findings, which is written plainly; and with every "
    "reading told to the engine's prefilter in full, not only those that it cannot let go at a glance. Reading JSON "
    "strictly is against `json.loads`, parsing the rulebook's TOML against the same tables as JSON. By turns, {rounds} "
    "rounds; medians."
)


def run(sizes: Sizes) -> Result:
    """Measure by turns."""
    given = documents(sizes.fittings)
    bodies = [json.dumps(document).encode() for document in given]
    book, every_reading_told = shipped_rulebook(), _fresh(shipped_rulebook())
    tomls = read_texts(files("rules") / "book")
    jsons = [json.dumps(tomllib.loads(text), default=str) for text in tomls.values()]

    def assessed(book: Rulebook) -> None:
        for document in given:
            assess(Fitting.model_validate(document, context={"book": book}), book).model_dump_json()

    def unverified() -> None:
        with mock.patch.object(examine, "verify"):
            assessed(book)

    def all_told() -> None:
        with _nothing_quiet():
            assessed(every_reading_told)

    works: dict[str, Callable[[], object]] = {
        "as it is": lambda: assessed(book),
        "without verification": unverified,
        "without the glance": all_told,
        "strict JSON": lambda: [loads(body) for body in bodies],
        "plain JSON": lambda: [json.loads(body) for body in bodies],
        "TOML": lambda: [tomllib.loads(text) for text in tomls.values()],
        "JSON": lambda: [json.loads(text) for text in jsons],
    }
    by_turns(works, 1)
    seconds = {name: middle(each) for name, each in by_turns(works, sizes.rounds).items()}
    us = {name: each / len(given) * 1e6 for name, each in seconds.items()}
    whole = us["as it is"]
    return Result(
        "simplicity",
        "What plain code costs, and what tricks save",
        _HOW.format(fittings=sizes.fittings, rounds=sizes.rounds),
        (
            ("the whole assessment", f"{whole:,.0f} µs"),
            ("plain verification costs", _share(whole - us["without verification"], whole)),
            ("the glance at quiet readings saves", _share(us["without the glance"] - whole, whole)),
            ("strict JSON costs, beside json.loads", _share(us["strict JSON"] - us["plain JSON"], whole)),
            ("TOML costs a cold start, beside JSON", f"{1e3 * (seconds['TOML'] - seconds['JSON']):.1f} ms"),
        ),
        packages=("pydantic", "durable-rules"),
    )


def _share(cost: float, whole: float) -> str:
    return f"{cost:,.0f} µs ({cost / whole:.1%})"


def _fresh(book: Rulebook) -> Rulebook:
    """The same book with nothing derived from it yet."""
    return dataclasses.replace(book)


@contextmanager
def _nothing_quiet() -> Iterator[None]:
    with mock.patch.object(facts, "_quiet", return_value=facts._never_quiet()):  # noqa: SLF001
        yield
