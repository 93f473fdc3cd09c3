"""What a tracing reckons with stands in the rulebook: the page takes each figure from there, and has none itself."""

from __future__ import annotations

import re
from typing import Final

from api.responses.rulebook import rulebook_document
from rules import shipped_rulebook
from rules.loading.loader import first_rulebook
from rules.loading.parameter_checks import ON_THE_PAGE
from tests.support.paths import ROOT

_SCRIPTS: Final = sorted((ROOT / "api" / "page" / "static" / "js" / "trace").glob("*.js"))
_SUMS: Final = ("plane", "homography", "snap", "geometry", "found", "taps", "check", "grey")
"""The modules that measure; the others draw, take fingers or keep photographs."""
_STEPS: Final = {
    "NEAR_PX": "any short length will do",
    "STEP": "how finely a profile is looked at",
    "WAYS": "how many ways are tried",
    "STEP_PX": "the step of a derivative",
    "TINY": "what is as good as nought for a machine",
    "FINE": "how finely a smooth line is drawn",
    "MOST": "the most that the contract of the service takes",
    "MOST_STEPS": "how much can be taken back",
    "SCALE_TAPS": "the corners of a card and the ends of a rule",
}
"""Numbers by name that may stand in the scripts: they are steps of a sum, or counts of what there is."""


def _text(name: str) -> str:
    return next(path for path in _SCRIPTS if path.stem == name).read_text(encoding="utf-8")


def test_what_measures_has_no_number_by_name_but_steps_of_its_sums() -> None:
    named = {
        name
        for each in _SUMS
        for name in re.findall(r"^(?:export )?const ([A-Z][A-Z_]+) = .*\d", _text(each), re.MULTILINE)
    }
    assert named == {name for name in _STEPS if any(re.search(rf"\bconst {name} = ", _text(each)) for each in _SUMS)}


def test_no_decimal_stands_in_what_measures_but_halves_and_the_coefficients_of_a_standard() -> None:
    """0.299, 0.587 and 0.114 are those of ITU-R BT.601."""
    allowed = {"0.5", "1.001", "0.299", "0.587", "0.114", "0.14"}
    found = {
        number
        for each in _SUMS
        for line in _text(each).splitlines()
        if not re.match(r"\s*(//|\*|/\*)", line)
        for number in re.findall(r"(?<![\w.$])\d+\.\d+", line)
    }
    assert found == allowed


def test_the_page_asks_for_every_figure_of_the_book_and_for_no_other() -> None:
    texts = "\n".join(path.read_text(encoding="utf-8") for path in _SCRIPTS)
    asked = set(re.findall(r"figure(?:Range)?\(\"(\w+)\"\)", texts))
    asked |= {f"photograph_{card}_{side}" for card in ("card", "sheet") for side in ("long", "short")}
    asked |= {f"photograph_taps_{part}" for part in ("hoof", "shoe")}
    assert "photograph_${by}_long" in texts
    assert "photograph_taps_${part}" in texts
    assert asked == set(ON_THE_PAGE)


def test_the_page_of_the_first_contracts_book_has_the_figures_too() -> None:
    """That book says nothing of photographs, and its files never change."""
    shipped = {each.id: each for each in rulebook_document(shipped_rulebook()).parameters}
    first = {each.id: each for each in rulebook_document(first_rulebook()).parameters}
    assert {name: first[name] for name in ON_THE_PAGE} == {name: shipped[name] for name in ON_THE_PAGE}
    assert first["trace"].value == first_rulebook().parameters["trace"].value


def test_each_figure_says_its_unit_standing_and_source() -> None:
    for each in rulebook_document(shipped_rulebook()).parameters:
        assert (each.value is None) != (each.low is None) or each.id == "growth"
        assert each.unit
        assert each.sources
