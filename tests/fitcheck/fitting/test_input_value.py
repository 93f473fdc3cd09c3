"""Readings: units, workshop fractions, eye words, uncertainty, and what is refused."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from fitcheck.fitting.input_value import InputValue, OfQuantity, in_unit, measured_value
from rules import first_rulebook, shipped_rulebook

EYE_WORDS = ("tight", "close", "full", "wide")


def read(quantity: str, raw: Any) -> tuple[float, float]:
    adapter: TypeAdapter[InputValue] = TypeAdapter(Annotated[InputValue, OfQuantity(quantity)])
    # Only the first contract's rulebook has figures for words of the eye.
    book = first_rulebook() if raw in EYE_WORDS or raw == {"value": "tight"} else shipped_rulebook()
    value, u = measured_value(adapter.validate_python(raw, context={"book": book}), quantity, book)
    return round(value, 6), round(u, 6)


@pytest.mark.parametrize(
    ("quantity", "raw", "expected"),
    [
        pytest.param("width", 2.4, (2.4, 0.5), id="a bare length is millimetres by a steel rule"),
        pytest.param("width", {"value": 3.0}, (3.0, 0.5), id="a value alone is millimetres by a steel rule"),
        pytest.param("width", {"value": 0.3, "unit": "cm"}, (3.0, 0.5), id="centimetres"),
        pytest.param("width", {"value": 0.125, "unit": "in"}, (3.175, 0.5), id="decimal inches, exact at 25.4"),
        pytest.param("width", {"value": "1/8", "unit": "in"}, (3.175, 0.5), id="a workshop fraction"),
        pytest.param("length", {"value": "1 5/8", "unit": "in"}, (41.275, 0.5), id="a mixed fraction"),
        pytest.param("width", {"value": "-1/16", "unit": "in"}, (-1.5875, 0.5), id="a fraction below nought"),
        pytest.param("length", {"value": "2", "unit": "in"}, (50.8, 0.5), id="whole inches as text"),
        pytest.param("width", {"value": 2, "u": 0.2}, (2.0, 0.2), id="a stated uncertainty counts first"),
        pytest.param("width", {"value": 1, "unit": "cm", "u": 0.02}, (10.0, 0.2), id="u is in the reading's own unit"),
        pytest.param("width", {"value": 2, "method": "calliper"}, (2.0, 0.1), id="a calliper is surer than a rule"),
        pytest.param("width", {"value": 2, "method": "eye"}, (2.0, 2.0), id="a number by eye is unsure"),
        pytest.param("gap", 0.2, (0.2, 0.03), id="a gap is read with a feeler gauge"),
        pytest.param("gap", {"value": 0.2, "method": "rule"}, (0.2, 0.5), id="a gap by rule says so"),
        pytest.param("width", "tight", (-1.5, 1.0), id="the eye says tight"),
        pytest.param("width", "close", (0.8, 0.8), id="the eye says close"),
        pytest.param("width", "full", (2.4, 0.8), id="the eye says full"),
        pytest.param("width", "wide", (5.0, 1.5), id="the eye says wide"),
        pytest.param("width", {"value": "tight"}, (-1.5, 1.0), id="an eye word as the value"),
        pytest.param("contact_time", 6, (6.0, 1.0), id="seconds"),
        pytest.param("contact_time", {"value": 6, "unit": "s"}, (6.0, 1.0), id="seconds by name"),
        pytest.param("coverage", 0.98, (0.98, 0.02), id="a fraction of the whole"),
        pytest.param("inside_temperature", {"value": 212, "unit": "degF"}, (100.0, 75.0), id="Fahrenheit"),
        pytest.param("inside_temperature", {"value": 212, "unit": "degF", "u": 9}, (100.0, 5.0), id="u in Fahrenheit"),
    ],
)
def test_a_reading_settles_to_its_own_unit(quantity: str, raw: Any, expected: tuple[float, float]) -> None:
    assert read(quantity, raw) == expected


@pytest.mark.parametrize(
    ("quantity", "raw", "says"),
    [
        pytest.param("width", True, "reading is needed", id="a boolean is no number"),
        pytest.param("width", None, "reading is needed", id="nothing"),
        pytest.param("width", [1], "reading is needed", id="a list"),
        pytest.param("width", float("nan"), "reading is needed", id="NaN"),
        pytest.param("width", float("inf"), "reading is needed", id="infinity"),
        pytest.param("width", 10**400, "reading is needed", id="a number beyond all floats"),
        pytest.param("width", "1/8", "fraction with its unit", id="a fraction without its unit"),
        pytest.param("width", "loose", "not a reading", id="an unknown eye word"),
        pytest.param("length", "tight", "not a reading", id="an eye word for another quantity"),
        pytest.param("width", {"value": "1/8", "unit": "mm"}, "not a number", id="a fraction of a millimetre"),
        pytest.param("width", {"value": "1/0", "unit": "in"}, "not a number", id="a fraction over nought"),
        pytest.param("width", {"value": "٣/8", "unit": "in"}, "not a number", id="digits of another script"),
        pytest.param("width", {"value": "1/8 in", "unit": "in"}, "not a number", id="the unit inside the fraction"),
        pytest.param("width", {"value": 2, "unit": "s"}, "not a unit", id="a time for a length"),
        pytest.param("width", {"value": 2, "unit": ["mm"]}, "not a unit", id="a unit that is a list"),
        pytest.param("coverage", {"value": 0.9, "unit": "mm"}, "not a unit", id="a unit for a share"),
        pytest.param("width", {"value": 2, "method": "laser"}, "not a method", id="an unknown method"),
        pytest.param("contact_time", {"value": 2, "method": "rule"}, "not a method", id="a rule for a time"),
        pytest.param("width", {"value": 2, "u": -0.1}, "standard uncertainty", id="an uncertainty below nought"),
        pytest.param("width", {"value": 2, "u": "big"}, "standard uncertainty", id="an uncertainty in words"),
        pytest.param("width", {"value": 2, "u": 1e9}, "larger than all", id="an uncertainty beyond all sense"),
        pytest.param("width", {"value": 2, "colour": 1}, "unknown key", id="an unknown key"),
        pytest.param("width", {"unit": "mm"}, "needs its value", id="no value"),
        pytest.param("width", {"value": True}, "finite number", id="a boolean value"),
        pytest.param("width", 61, "cannot be right", id="wider than any branch stands out"),
        pytest.param("width", {"value": 3, "unit": "in"}, "cannot be right", id="inches beyond the range"),
        pytest.param("contact_time", -1, "cannot be right", id="a time below nought"),
        pytest.param("coverage", 98, "cannot be right", id="per cent instead of a share"),
    ],
)
def test_a_wrong_reading_is_refused_and_says_what_is_allowed(quantity: str, raw: Any, says: str) -> None:
    with pytest.raises(ValidationError) as caught:
        read(quantity, raw)
    (error,) = caught.value.errors()
    assert says.lower() in error["msg"].lower()
    assert error["ctx"]["allowed"]


@given(st.integers(0, 40), st.integers(1, 64), st.integers(1, 64))
def test_any_workshop_fraction_is_read_exactly(whole: int, over: int, under: int) -> None:
    exact = whole + Fraction(over, under)
    text = f"{whole} {over}/{under}" if whole else f"{over}/{under}"
    if not -80 <= exact * Fraction("25.4") <= 120:
        return
    assert read("length", {"value": text, "unit": "in"})[0] == round(float(exact * Fraction("25.4")), 6)


def test_the_inch_is_exact() -> None:
    """International yard and pound agreement of 1959: 1 in = 25.4 mm exactly."""
    assert in_unit(1, "in") == 25.4


def test_what_was_given_is_kept_for_the_record() -> None:
    adapter: TypeAdapter[InputValue] = TypeAdapter(Annotated[InputValue, OfQuantity("width")])
    for raw in ("tight", {"value": 0.125, "unit": "in", "u": 0.01, "method": "calliper"}):
        context = {"book": first_rulebook()}
        assert adapter.dump_python(adapter.validate_python(raw, context=context)) == raw
