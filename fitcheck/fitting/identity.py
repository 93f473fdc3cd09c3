"""Who and what a fitting is about: names that say nothing of a person, and the two numbers that a horse has for life.

Transponder codes are those of ISO 11784, written as 15 digits: a country or a maker, then the animal's own number. A
Universal Equine Life Number (UELN) has 15 characters: a country, its studbook or database, then the horse. Of a code
that cannot be one, the part that is wrong is told.

Countries are not looked up in a list: a horse keeps the code of a country that is no more, and a new country must not
wait for a new fitcheck. ISO 3166-1 gives 001 to 899; it leaves those from 900 on to users.
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

__all__ = [
    "HIGHEST_COUNTRY",
    "LARGEST_NATIONAL_CODE",
    "LENGTH",
    "PATTERN_WORDS",
    "Identifier",
    "LifeNumber",
    "OpaqueId",
    "Transponder",
]

LENGTH: Final = 15
"""Characters of a transponder code and of a UELN."""

LARGEST_NATIONAL_CODE: Final = 2**38 - 1
"""The last 12 digits of a transponder code stand in 38 bits."""

HIGHEST_COUNTRY: Final = 899
"""ISO 3166-1 leaves the numeric codes beyond it to users."""

_LONGEST_NAME: Final = 64
_PLAIN: Final = r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]+$"
_OPAQUE: Final = r"^[A-Za-z0-9._:-]+$"
_CODE: Final = r"^(00[1-9]|0[1-9][0-9]|[1-9][0-9]{2})[0-9]{12}$"
_LIFE_NUMBER: Final = r"^(00[1-9]|0[1-9][0-9]|[1-8][0-9]{2})[0-9A-Z]{12}$"

PATTERN_WORDS: Final = {
    _PLAIN: "without line breaks, tabs or other control characters",
    _OPAQUE: "an opaque id of letters, digits and . _ - : only",
    _CODE: f"15 digits: 001 to {HIGHEST_COUNTRY} for a country or 900 to 999 for a maker or a test, "
    f"then a number up to {LARGEST_NATIONAL_CODE}",
    _LIFE_NUMBER: f"15 characters: the 3 digits of a country, 001 to {HIGHEST_COUNTRY}, "
    "then 12 digits or capital letters",
}
"""The patterns in words, since a pattern is not for reading."""

_BLANKS: Final = re.compile(r"[\s\-./]")
_DIGITS: Final = re.compile(r"[0-9]+")


def _opaque(raw: Any) -> Any:
    """Refuse what names or reaches a person: names have blanks, addresses have @."""
    if not isinstance(raw, str) or not 0 < len(raw) <= _LONGEST_NAME or re.fullmatch(_OPAQUE, raw):
        return raw
    if "@" in raw:
        what = "This looks like an address."
    elif " " in raw:
        what = "This looks like a name: there are blanks in it."
    else:
        odd = next(letter for letter in raw if not re.fullmatch(_OPAQUE, letter))
        shown = _shown(odd)
        what = f"{shown[0].upper()}{shown[1:]} does not belong in an id."
    raise _refused(
        f"{what} People are never named here: write an opaque id, such as A-3, and keep elsewhere who that is.",
        f"text of 1 to {_LONGEST_NAME} characters, {PATTERN_WORDS[_OPAQUE]}",
    )


def _transponder(raw: Any) -> Any:
    if not isinstance(raw, str):
        return raw
    allowed = PATTERN_WORDS[_CODE]
    odd = next((at for at, letter in enumerate(raw) if not _DIGITS.fullmatch(letter) or not letter.isascii()), None)
    if odd is not None:
        raise _refused(f"{_odd(raw, odd)} A transponder code has digits only.", allowed)
    if len(raw) != LENGTH:
        raise _refused(
            f"There are {len(raw)} digits; a transponder code of ISO 11784 has {LENGTH}. The number of another kind of "
            "chip belongs in horse.id.",
            allowed,
        )
    if raw.startswith("000"):
        raise _refused(f"The first 3 digits are {raw[:3]}, which no country and no maker has. Read it again.", allowed)
    if int(raw[3:]) > LARGEST_NATIONAL_CODE:
        raise _refused(
            f"The last 12 digits are {raw[3:]}; a transponder holds {LARGEST_NATIONAL_CODE} at most. Read it again.",
            allowed,
        )
    return raw


def _life_number(raw: Any) -> Any:
    if not isinstance(raw, str):
        return raw
    allowed = PATTERN_WORDS[_LIFE_NUMBER]
    odd = next((at for at, letter in enumerate(raw) if not re.fullmatch("[0-9A-Z]", letter)), None)
    if odd is not None:
        remedy = "Write it in capitals." if re.fullmatch("[a-z]", raw[odd]) else "A UELN has digits and letters only."
        raise _refused(f"{_odd(raw, odd)} {remedy}", allowed)
    if len(raw) != LENGTH:
        raise _refused(f"There are {len(raw)} characters; a UELN has {LENGTH}. Copy it from the passport.", allowed)
    country = raw[:3]
    if not _DIGITS.fullmatch(country):
        raise _refused(
            f'The first 3 characters are "{country}"; a UELN begins with the 3 digits of a country in ISO 3166-1, such '
            "as 276.",
            allowed,
        )
    if not 0 < int(country) <= HIGHEST_COUNTRY:
        raise _refused(f"The first 3 digits are {country}, which no country has. Copy it from the passport.", allowed)
    return raw


def _odd(raw: str, at: int) -> str:
    if _BLANKS.fullmatch(raw[at]):
        return f"Character {at + 1} is {_shown(raw[at])}: write the {LENGTH} characters without anything between them."
    return f"Character {at + 1} is {_shown(raw[at])}."


def _shown(letter: str) -> str:
    if letter.isspace() or not letter.isprintable():
        return "a blank" if letter == " " else f"the character U+{ord(letter):04X}"
    return f'"{letter}"'


def _refused(detail: str, allowed: str) -> PydanticCustomError:
    return PydanticCustomError("identity", "{detail}", {"detail": detail, "allowed": allowed})


Identifier = Annotated[
    str,
    Field(
        min_length=1, max_length=_LONGEST_NAME, pattern=_PLAIN, description="an opaque name, without control characters"
    ),
]
"""The yard's own name for a horse or a visit."""

OpaqueId = Annotated[
    str,
    Field(
        min_length=1,
        max_length=_LONGEST_NAME,
        pattern=_OPAQUE,
        description="an opaque id of letters, digits and . _ - : only; never a name or an address",
    ),
    BeforeValidator(_opaque),
]
"""What a person goes by here; who is who is known elsewhere."""

Transponder = Annotated[str, Field(pattern=_CODE), BeforeValidator(_transponder)]
LifeNumber = Annotated[str, Field(pattern=_LIFE_NUMBER), BeforeValidator(_life_number)]
