"""Who and what a fitting is about: numbers that a horse can have are taken, others are told by the part that is wrong.

ISO 11784:1996 gives a transponder a country or maker of 10 bits and an animal of 38; ISO 3166-1 has numeric countries
of 3 digits, the same as in the United Nations' list M49. The parts of a UELN are those that the register of its
databases gives (ueln.net). All of it from memory, but for what names its source.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.identity import LARGEST_NATIONAL_CODE
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.validation import parse_fitting

# M49 as published by the United Nations, unstats.un.org/unsd/methodology/m49; from memory: the first and the last that
# are assigned, some between, and those of countries that are no more, whose horses keep their numbers.
COUNTRIES = ["004", "056", "100", "250", "276", "372", "528", "724", "728", "826", "840", "894"]
FORMER = ["200", "278", "280", "810", "890", "891"]


def with_parts(**parts: Any) -> dict[str, Any]:
    return {"foot": "left_fore", "stage": "nailed", "work": "riding", "observations": {}, **parts}


def refused(**parts: Any) -> Problem:
    with pytest.raises(BadInput) as caught:
        parse_fitting(with_parts(**parts))
    (problem,) = caught.value.problems
    return problem


@pytest.mark.parametrize("country", [*COUNTRIES, *FORMER])
def test_a_horse_of_any_country_there_is_or_was_has_its_numbers_taken(country: str) -> None:
    horse = {"transponder": f"{country}{LARGEST_NATIONAL_CODE}", "ueln": f"{country}0AB1234567890"[:15]}
    assert parse_fitting(with_parts(horse=horse)).horse is not None


@pytest.mark.parametrize("maker", ["900", "941", "977", "985", "998", "999"])
def test_the_codes_of_makers_and_of_tests_are_transponders_but_no_life_numbers(maker: str) -> None:
    assert parse_fitting(with_parts(horse={"transponder": f"{maker}000000000001"})).horse is not None
    assert "no country has" in refused(horse={"ueln": f"{maker}000000000001"}).detail


def test_the_largest_number_of_38_bits_is_taken_and_the_next_is_not() -> None:
    # 2 to the power of 38, less one, worked out by hand: 274 877 906 943.
    assert LARGEST_NATIONAL_CODE == 274_877_906_943
    parse_fitting(with_parts(horse={"transponder": "276274877906943"}))
    problem = refused(horse={"transponder": "276274877906944"})
    assert "The last 12 digits are 274877906944" in problem.detail
    assert "274877906943" in problem.allowed


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("27600000000000", "There are 14 digits"),
        ("2760000000000010", "There are 16 digits"),
        ("", "There are 0 digits"),
        ("276 00000000001", "Character 4 is a blank: write the 15 characters without anything between them"),
        ("276-00000000001", 'Character 4 is "-": write'),
        ("276O00000000001", 'Character 4 is "O". A transponder code has digits only'),
        ("\u0662\u0667\u0666000000000001", "Character 1 is"),
        ("276000000000001\n", "Character 16 is the character U+000A"),
        ("000000000000001", "The first 3 digits are 000"),
    ],
)
def test_of_a_code_that_is_none_the_part_that_is_wrong_is_told(code: str, says: str) -> None:
    problem = refused(horse={"transponder": code})
    assert problem.field == "horse.transponder"
    assert problem.value == code
    assert problem.detail.startswith(says)
    assert problem.allowed.startswith("15 digits: 001 to 899 for a country or 900 to 999")


@pytest.mark.parametrize(
    ("number", "says"),
    [
        ("27642100001234", "There are 14 characters"),
        ("276421000012345X", "There are 16 characters"),
        ("DEU421000012345", 'The first 3 characters are "DEU"'),
        ("2764210000123a5", 'Character 14 is "a". Write it in capitals'),
        ("276 42100001234", "Character 4 is a blank: write the 15 characters"),
        ("27642100001234\u00c4", 'Character 15 is "\u00c4". A UELN has digits and letters only'),
        ("000421000012345", "The first 3 digits are 000"),
    ],
)
def test_of_a_life_number_that_is_none_the_part_that_is_wrong_is_told(number: str, says: str) -> None:
    problem = refused(horse={"ueln": number})
    assert problem.field == "horse.ueln"
    assert problem.detail.startswith(says)
    assert problem.allowed.startswith("15 characters: the 3 digits of a country, 001 to 899")


@given(country=st.integers(1, 999), animal=st.integers(0, LARGEST_NATIONAL_CODE))
def test_every_number_that_the_bits_can_hold_is_a_code(country: int, animal: int) -> None:
    code = f"{country:03}{animal:012}"
    horse = parse_fitting(with_parts(horse={"transponder": code})).horse
    assert horse is not None
    assert horse.transponder == code


@pytest.mark.parametrize("who", ["person", "assessor"])
@pytest.mark.parametrize("id_", ["A-3", "apprentice:3", "a.b_c-d:e", "7", "x" * 64])
def test_an_opaque_id_is_taken(who: str, id_: str) -> None:
    assert getattr(parse_fitting(with_parts(**{who: {"id": id_}})), who).id == id_


@pytest.mark.parametrize("who", ["person", "assessor"])
@pytest.mark.parametrize(
    ("id_", "says"),
    [
        ("Given Family", "This looks like a name"),
        ("farrier@low-meadow.example", "This looks like an address"),
        ("A-3\n", "The character U+000A does not belong"),
        ("A\x003", "The character U+0000 does not belong"),
        ("Andr\u00e9", '"\u00e9" does not belong'),
        ("A,3", '"," does not belong'),
        ("=A3", '"=" does not belong'),
        ("\u202eA3", "The character U+202E does not belong"),
    ],
)
def test_what_names_a_person_is_refused_with_a_word_on_opaque_ids(who: str, id_: str, says: str) -> None:
    problem = refused(**{who: {"id": id_}})
    assert problem.field == f"{who}.id"
    assert problem.detail.startswith(says)
    assert "opaque id, such as A-3" in problem.detail
    assert "letters, digits and . _ - :" in problem.allowed


@pytest.mark.parametrize("name", ["Grey mare, box 4", "H-017", "Stute \u00c4", "#12"])
def test_horses_and_visits_go_by_whatever_the_yard_calls_them(name: str) -> None:
    fitting = parse_fitting(with_parts(horse={"id": name}, visit=name))
    assert fitting.visit == name


@pytest.mark.parametrize("odd", ["\n", "\t", "\x00", "\x7f", "\x85", "\u2028", "\u2029"])
def test_a_control_character_is_in_no_name(odd: str) -> None:
    for parts in ({"horse": {"id": f"H{odd}1"}}, {"visit": f"V{odd}1"}):
        assert "control characters" in refused(**parts).allowed


def test_the_schema_says_the_same_as_the_check() -> None:
    schema = Fitting.model_json_schema()["$defs"]
    horse = schema["Horse"]["properties"]
    assert "ISO 11784" in horse["transponder"]["description"]
    assert "ISO 3166-1" in horse["ueln"]["description"]
    assert horse["transponder"]["anyOf"][0]["pattern"].startswith("^(00[1-9]|")
    assert horse["ueln"]["anyOf"][0]["pattern"].endswith("[0-9A-Z]{12}$")
    for who in ("Person", "Assessor"):
        assert schema[who]["properties"]["id"]["pattern"] == "^[A-Za-z0-9._:-]+$"
        assert schema[who]["properties"]["id"]["maxLength"] == 64
