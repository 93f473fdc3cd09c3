"""How a reading is written in JSON, as one named schema for all of them; documentation alone, for JSON schemas.

What a single field takes besides, its range, units and words, stands beside the reference to it.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, RootModel
from pydantic_core import CoreSchema

from fitcheck.documented import DocumentedModel
from rules.model.records import Method

__all__ = ["MeasuredReading", "Reading", "UnitName", "reading_schema"]

UnitName = Literal["mm", "cm", "in", "deg", "s", "degC", "degF", "kg"]


class MeasuredReading(DocumentedModel):
    """A number with its unit, its uncertainty or how it was measured; or a workshop fraction of an inch."""

    model_config = ConfigDict(extra="forbid")

    value: Annotated[float | str, Field(examples=[2.4, "1 5/8"])]
    """A number; a fraction as text, such as 1/8 or 1 5/8, with unit in alone; or a word that the field takes."""
    unit: UnitName | None = None
    """The field's own unit where it is left out. In UCUM: mm, cm, [in_i], deg, s, Cel, [degF], kg."""
    u: Annotated[float, Field(ge=0)] | None = None
    """Standard uncertainty, in the same unit; the rulebook's for the way of measuring where it is left out."""
    method: Method | None = None
    """How a length was measured; a steel rule, or what the field is usually measured with, where it is left out."""


class Reading(RootModel[float | MeasuredReading | str]):
    """A bare number in the field's own unit, an object that says more of it, or a word of the eye."""


def reading_schema() -> CoreSchema:
    """The schema of :class:`Reading`."""
    return Reading.__pydantic_core_schema__
