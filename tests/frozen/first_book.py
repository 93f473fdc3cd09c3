"""What the pinned rulebook of the first contract answers: the demo feet, the demo pair and 300 random fittings.

The fittings are kept in a file, as they were sent, so that neither demo feet nor tables of cases that change can change
them.  The digests were frozen while this was the shipped rulebook, and are never written anew.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from fitcheck.assessment.assess import assess
from fitcheck.errors import BadInput
from fitcheck.fitting.validation import parse_fitting
from fitcheck.pairs import assess_pair
from rules import Rulebook, first_rulebook, localized
from tests.frozen.normal import normal_json

__all__ = ["first_book_answers"]

_FITTINGS: Final = Path(__file__).parent / "first_fittings.ndjson.gz"


def first_book_answers() -> Iterator[tuple[str, str]]:
    """The answer to each demo foot, to the demo pair and to each block of fifty fittings, in either language."""
    kept: dict[str, dict[str, list[dict[str, Any]]]] = {"demo": {}, "pair": {}, "block": {}}
    for line in gzip.decompress(_FITTINGS.read_bytes()).splitlines():
        entry = json.loads(line)
        fitting = entry.pop("fitting")
        ((kind, name),) = entry.items()
        kept[kind].setdefault(name, []).append(fitting)
    for language in ("en", "de"):
        book = localized(first_rulebook(), language)
        for name, documents in {**kept["demo"], **kept["block"]}.items():
            yield f"{name}.{language}", "\n".join(_answer(document, book) for document in documents)
        left, right = (parse_fitting(kept["pair"][side][0], book) for side in ("left", "right"))
        yield f"fore_pair.{language}", normal_json(assess_pair(left, right, book).model_dump(mode="json"))


def _answer(document: dict[str, Any], book: Rulebook) -> str:
    try:
        return normal_json(assess(parse_fitting(document, book), book).model_dump(mode="json"))
    except BadInput as error:
        return normal_json([problem.as_dict() for problem in error.problems])
