"""What was sent, told just as it was sent, for every demo foot and in both languages."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import each_sent
from fitcheck.stored.as_sent import observations_as_sent
from rules import localized, shipped_rulebook
from tests.support.paths import ROOT

BOOK = shipped_rulebook()
FEET = sorted(path for path in (ROOT / "cases_demo").glob("*.json") if not path.name.endswith(".answer.json"))


@pytest.mark.parametrize("path", FEET, ids=lambda path: path.stem)
def test_every_reading_that_was_sent_is_told_once(path: Path) -> None:
    document = json.loads(path.read_text(encoding="utf-8"))
    fitting = Fitting.model_validate(document)
    sent = {quantity for (quantity, _), _ in each_sent(fitting) if quantity in BOOK.quantities}
    for language in ("en", "de"):
        found = observations_as_sent(fitting, localized(BOOK, language))
        assert sum(map(len, found.values())) == len(sent)
        assert all(row.readings and row.quantity for rows in found.values() for row in rows)


def test_places_that_are_alike_stand_together_and_nothing_is_computed() -> None:
    good = json.loads((ROOT / "cases_demo" / "good-draught-fore.json").read_text(encoding="utf-8"))
    found = observations_as_sent(Fitting.model_validate(good), BOOK)
    nails = {row.quantity: row.readings for row in found["nails"]}
    assert any("medial nail 1: 26.5 mm" in reading for readings in nails.values() for reading in readings)
    assert ("firm (at all 8)",) in nails.values()
    assert "" in found
