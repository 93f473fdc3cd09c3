"""What the models of a fitting share: strict types, days, numbers, points, and errors that belong to one field."""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

import re
from collections.abc import Iterable
from datetime import date
from typing import Annotated, Any, Final, Literal, get_args

from pydantic import BeforeValidator, ConfigDict, Field, PlainSerializer
from pydantic_core import PydanticCustomError

from fitcheck.documented import DocumentedModel

__all__ = [
    "GAP_PLACES",
    "MOST_POINTS",
    "Day",
    "FittedFoot",
    "GapPlace",
    "HolePlace",
    "Model",
    "Number",
    "Point",
    "contradiction",
    "each_once",
]

FittedFoot = Literal["left_fore", "right_fore", "left_hind", "right_hind"]
GapPlace = Literal["toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel"]
GAP_PLACES: Final[tuple[GapPlace, ...]] = get_args(GapPlace)

MOST_POINTS = 2000
"""Traces and height maps of more points than this gain nothing and cost time."""

_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


def _iso_date(raw: Any) -> Any:
    if isinstance(raw, date):
        return raw
    try:
        if isinstance(raw, str) and _ISO_DATE.fullmatch(raw):
            return date.fromisoformat(raw)
    except ValueError:
        pass
    raise PydanticCustomError(
        "day", "{detail}", {"detail": "This is not a day of the calendar.", "allowed": 'a date such as "2026-03-04"'}
    )


Day = Annotated[
    date,
    BeforeValidator(_iso_date, json_schema_input_type=Annotated[str, Field(json_schema_extra={"format": "date"})]),
    PlainSerializer(date.isoformat, return_type=str),
]
Number = Annotated[float, Field(allow_inf_nan=False, ge=-100_000, le=100_000)]
Point = Annotated[list[Number], Field(min_length=2, max_length=2)]


class Model(DocumentedModel):
    """Base of the input models: strict types, no unknown keys, immutable; built as part of the whole that is read."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, defer_build=True)


class HolePlace(Model):
    """One hole of one branch."""

    branch: Literal["medial", "lateral"]
    hole: Annotated[int, Field(ge=1, le=6)]
    """Number of the hole in its branch, counted from the toe."""

    @property
    def place(self) -> str:
        """The place of the nail in it, such as ``nail:medial:2``."""
        return f"nail:{self.branch}:{self.hole}"


def contradiction(field: str, detail: str, allowed: str) -> PydanticCustomError:
    """An error of the whole model that belongs to one of its fields."""
    return PydanticCustomError(
        "contradiction", "{detail}", {"detail": f"{detail[0].upper()}{detail[1:]}", "allowed": allowed, "field": field}
    )


def each_once(field: str, names: Iterable[str], allowed: str) -> None:
    """Fail at the item of the list ``field`` whose name stands there already; ``{number}`` stands for its number."""
    seen: set[str] = set()
    for number, name in enumerate(names):
        if name in seen:
            raise contradiction(field.format(number=number), f"{name} is given twice.", allowed)
        seen.add(name)
