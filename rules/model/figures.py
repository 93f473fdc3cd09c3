"""Figures of a rulebook and where they come from: sources, parameters, levels, uncertainties.

Every record forbids unknown keys.  Numbers are in the unit that the record names; nothing here knows a figure.
"""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

import re
from fractions import Fraction
from typing import Annotated, Any, Final, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

__all__ = [
    "EyeWord",
    "Figure",
    "Level",
    "Parameter",
    "Record",
    "Source",
    "Sourced",
    "Status",
    "Text",
    "Uncertainty",
    "Unit",
]

Text = Annotated[str, Field(min_length=1, max_length=600)]
Status = Literal["published", "second hand", "common practice", "own practice", "from memory"]
"""Of a figure: read in a source, published but seen only quoted, of the trade, of a yard, or remembered."""
Unit = Literal["mm", "s", "deg", "degC", "kg", "1", "d", "mm/month"]

_INCHES: Final = re.compile(r"(-)?(?:(\d{1,3}) )?(\d{1,3})/(\d{1,3}) in")
_MM_IN_AN_INCH: Final = Fraction("25.4")  # exact since the international yard and pound agreement of 1959


def _in_mm(written: Any) -> Any:
    """A figure in inches, such as ``"1 5/8 in"``, in mm and exact; anything else as it is written."""
    found = _INCHES.fullmatch(written) if isinstance(written, str) else None
    if found is None or not int(found[4]):
        return written
    inches = int(found[2] or 0) + Fraction(int(found[3]), int(found[4]))
    return float(inches * _MM_IN_AN_INCH * (-1 if found[1] else 1))


Figure = Annotated[
    float,
    BeforeValidator(_in_mm, json_schema_input_type=float | Annotated[str, Field(pattern=rf"^{_INCHES.pattern}$")]),
]
"""A number; or as text a figure in inches, which is kept exactly, in mm."""


class Record(BaseModel):
    """Base of every rulebook record: immutable, strict, no unknown keys, finite numbers.

    Validators are built when a record is first read: those of bases, and of what a book does not have, never are.  With
    the same of fittings and answers that takes 18 ms off a cold start.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False, defer_build=True)


class Sourced(Record):
    """A figure with its standing: ``status`` of the figure, ``sources`` by id, ``basis`` in one sentence."""

    status: Status
    """The standing of the figure: published, second hand, common practice, own practice, or from memory."""
    sources: tuple[str, ...] = Field(min_length=1)
    """Names of sources, as in sources.toml; trade, memory or own where the status says so."""
    basis: Text
    """One sentence that says what is published where, or why the figure is as it is."""


class Source(Record):
    """One published source (or the two stand-ins: common practice, from memory)."""

    title: Text
    """What it is called."""
    authors: Text | None = None
    """Who wrote it."""
    year: Text | None = None
    """When it appeared, as text."""
    note: Text | None = None
    """What it is used for, or what to know of it."""
    licence: Text | None = None
    """Under which terms it may be used."""


class Level(Sourced):
    """A firing level: the least probability of lying beyond the limit at which a rule fires."""

    probability: float = Field(gt=0, le=0.5)
    """The least probability, above 0 and at most 0.5."""
    meaning: Text
    """One sentence for readers."""


class Uncertainty(Sourced):
    """Standard uncertainty ``u`` (in ``unit``) of one way of reading."""

    title: Text
    """How it is called in a sentence."""
    u: float = Field(ge=0)
    """The standard uncertainty, one standard deviation."""
    unit: Unit
    """The unit that u is in."""


class Parameter(Sourced):
    """A figure or range that a computation uses: ``value``, or from ``low`` to ``high``, in ``unit``."""

    title: Text
    """What the figure is."""
    unit: Text
    """The unit that it is in."""
    low: float | None = None
    """The least, with high."""
    high: float | None = None
    """The greatest, with low."""
    value: float | None = None
    """The one figure that is used."""
    printed: Text | None = None
    """The figure as its source prints it."""

    @model_validator(mode="after")
    def _value_or_range(self) -> Self:
        if (self.low is None) != (self.high is None) or (self.low is None and self.value is None):
            raise ValueError("a parameter has value, or low and high, or all three")
        if self.low is not None and self.high is not None and not self.low < self.high:
            raise ValueError("low lies below high")
        return self


class EyeWord(Sourced):
    """What a word of the trade stands for as a number: ``value`` with standard uncertainty ``u``, in ``unit``."""

    value: float
    """The number that the word stands for."""
    u: float = Field(gt=0)
    """Its standard uncertainty."""
    unit: Unit
    """The unit of both."""
