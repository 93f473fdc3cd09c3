"""A fitting: everything observed of one shod foot, as outside clients send it (JSON field names are fixed)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, ConfigDict, Field, PlainSerializer, model_validator
from pydantic_core import PydanticCustomError

from fitcheck.documented import DocumentedModel
from fitcheck.fitting.identity import Identifier, LifeNumber, OpaqueId, Transponder
from fitcheck.fitting.input_value import InputValue, OfQuantity
from rules.model import BranchSide, Foot, HoofForm, Stage, Stance, Work

__all__ = [
    "Branch",
    "FittedFoot",
    "Fitting",
    "GapPlace",
    "HeelFit",
    "Nail",
    "Observations",
    "Scorch",
    "ToeFit",
]

FittedFoot = Literal["left_fore", "right_fore", "left_hind", "right_hind"]
GapPlace = Literal["toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel"]

_STANCES: Final[Mapping[str, Stance]] = {"base_wide": "base_wide", "base_narrow": "base_narrow"}
"""Words of hoof_form that are stances, as the first contract had them."""

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
# Traces and height maps of more points than this gain nothing and cost time.
_MOST_POINTS = 2000
Point = Annotated[list[Number], Field(min_length=2, max_length=2)]
HeightPoint = Annotated[list[Number], Field(min_length=3, max_length=3)]
Arc = Annotated[list[Annotated[float, Field(allow_inf_nan=False, ge=-180, le=180)]], Field(min_length=2, max_length=2)]


class Model(DocumentedModel):
    """Base of the input models: strict types, no unknown keys, immutable."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class Horse(Model):
    """Which horse."""

    id: Identifier | None = None
    """The yard's own name or number for the horse."""
    ueln: LifeNumber | None = None
    """Universal Equine Life Number: 3 digits of a country (ISO 3166-1, 001 to 899), then 12 digits or capital letters.

    Characters 4 to 6 name the studbook or database.
    """
    transponder: Transponder | None = None
    """Transponder code of ISO 11784, as 15 digits.

    001 to 899 for a country (ISO 3166-1) or 900 to 998 for a maker, 999 for a test, then a number up to 274877906943.
    """


class Person(Model):
    """Who fitted the shoe."""

    id: OpaqueId
    role: Literal["apprentice", "farrier"] | None = None


class Assessor(Model):
    """Who looked at it for this assessment."""

    id: OpaqueId


class Hoof(Model):
    """Dimensions of the hoof."""

    wall_thickness: Annotated[InputValue, OfQuantity("wall_thickness")] | None = None
    """Thickness of the wall at the toe, at its bearing edge, to the inner side of the white line (mm)."""
    sole_thickness: Annotated[InputValue, OfQuantity("sole_thickness")] | None = None
    """Thickness of the sole (mm)."""
    wall_height: Annotated[InputValue, OfQuantity("wall_height")] | None = None
    """Height of the wall at the toe, along its slope (mm)."""
    wall_angle: Annotated[InputValue, OfQuantity("wall_angle")] | None = None
    """Slope of the wall to the ground at the toe (deg); a range is taken where it is not given."""


class Shoe(Model):
    """Dimensions of the shoe."""

    thickness: Annotated[InputValue, OfQuantity("shoe_thickness")] | None = None
    """Thickness of the iron (mm). Branch lengths and the clip are judged against it."""
    length: Annotated[InputValue, OfQuantity("shoe_length")] | None = None
    """Length of the shoe from the toe to the ends of the heels (mm)."""


class Branch(Model):
    """The heel end of one branch of the shoe."""

    length: Annotated[InputValue, OfQuantity("length")] | None = None
    """How far the branch reaches past the buttress of the heel (mm); negative: it ends before it."""
    width: Annotated[InputValue, OfQuantity("width")] | None = None
    """Width outside the wall from the last nail hole to the heel end (mm, or tight, close, full, wide)."""
    frog_gap: Annotated[InputValue, OfQuantity("frog_gap")] | None = None
    """Gap between the branch and the frog (mm)."""


class HeelFit(Model):
    """How the shoe fits at the heels."""

    medial: Branch | None = None
    lateral: Branch | None = None


class ToeFit(Model):
    """How the shoe fits at the toe and along the nail holes."""

    overhang: Annotated[InputValue, OfQuantity("overhang")] | None = None
    """Iron beyond the wall at the toe (mm); negative: set back, horn beyond iron."""
    medial_overhang: Annotated[InputValue, OfQuantity("overhang")] | None = None
    """Iron beyond the wall at the medial nail holes (mm); negative: iron inside the wall."""
    lateral_overhang: Annotated[InputValue, OfQuantity("overhang")] | None = None
    """Iron beyond the wall at the lateral nail holes (mm); negative: iron inside the wall."""
    wall_rasped_back: bool | None = None
    """Whether the wall was rasped back to meet the shoe."""
    clip: Literal["none", "seated", "proud", "too_deep"] | None = None
    """How the clip sits; none: the shoe has no clip."""
    clip_height: Annotated[InputValue, OfQuantity("clip_height")] | None = None
    """Height of the clip (mm)."""

    @model_validator(mode="after")
    def _a_clip_to_measure(self) -> ToeFit:
        if self.clip == "none" and self.clip_height is not None:
            raise _contradiction(
                "clip_height", "clip says that there is none, yet a height is given.", "no clip_height with clip none"
            )
        return self


class Levelness(Model):
    """How level the foot is and how the shoe lies on it."""

    rocks: bool | None = None
    """Whether the shoe rocks on the foot."""
    gaps: dict[GapPlace, Annotated[InputValue, OfQuantity("gap")] | None] | None = None
    """Gap between shoe and horn by place (mm, feeler gauge)."""
    heights: Annotated[list[HeightPoint], Field(max_length=_MOST_POINTS)] | None = None
    """Measured heights of the bearing surface: x, y, height (mm), toe towards +y."""
    medial_height: Annotated[InputValue, OfQuantity("wall_height")] | None = None
    """Height of the medial wall (mm)."""
    lateral_height: Annotated[InputValue, OfQuantity("wall_height")] | None = None
    """Height of the lateral wall (mm)."""


class Nail(Model):
    """One nail and what was seen, heard and felt of it."""

    branch: BranchSide
    hole: Annotated[int, Field(ge=1, le=6)]
    """Number of the hole in its branch, counted from the toe."""
    exit_height: Annotated[InputValue, OfQuantity("exit_height")] | None = None
    """Where the nail leaves the wall, above the shoe, along the wall (mm)."""
    wall_height: Annotated[InputValue, OfQuantity("wall_height")] | None = None
    """Height of the wall at that place, along its slope (mm)."""
    position: Annotated[InputValue, OfQuantity("position")] | None = None
    """How far back the nail stands, as a fraction of the shoe's length from the toe."""
    hole_inset: Annotated[InputValue, OfQuantity("hole_inset")] | None = None
    """Distance of the hole from the outer edge of the wall, at the bearing surface (mm)."""
    sound: Literal["firm", "soft"] | None = None
    """How the nail drove: firm and ringing, or soft and dull."""
    reaction: Literal["none", "flinch"] | None = None
    """What the horse did."""
    blood: bool | None = None
    """Whether blood was seen at the nail."""
    clinch: Literal["flush", "proud", "cracked", "pulled", "missing", "sharp", "thin"] | None = None
    """State of the clinch."""


class Scorch(Model):
    """What the hot shoe left on the horn."""

    arcs: Annotated[list[Arc], Field(max_length=_MOST_POINTS)] | None = None
    """Stretches of the bearing wall that took the imprint, [from, to] in degrees.

    0 at the toe, positive to the lateral side, heels at +/-150.
    """
    coverage: Annotated[InputValue, OfQuantity("coverage")] | None = None
    """Share of the bearing wall that took the imprint, 0 to 1."""
    sole_scorch: Annotated[InputValue, OfQuantity("sole_scorch")] | None = None
    """How far the sole is scorched inside the white line (mm)."""
    sole_pressure: bool | None = None
    """Whether the shoe bears on the sole."""
    shoe_heat: Literal["black", "dull_red", "cherry", "bright"] | None = None
    """Heat of the shoe by its colour."""
    contact_time: Annotated[InputValue, OfQuantity("contact_time")] | None = None
    """How long the shoe was held to the foot, longest single application (s)."""
    further_contact_times: (
        Annotated[list[Annotated[InputValue, OfQuantity("contact_time")]], Field(max_length=20)] | None
    ) = None
    """Every other application of the hot shoe to this foot (s); they add up."""


class Finish(Model):
    """The finished wall and clinches."""

    hand: Literal["smooth", "rough", "sharp"] | None = None
    """What a hand run over wall and clinches feels."""
    rasped_above_clinches: bool | None = None
    """Whether the wall was rasped above the clinches."""


class Soundness(Model):
    """How the horse goes."""

    trot_up: Literal["sound", "uneven", "lame"] | None = None
    """How the horse trots up."""


class History(Model):
    """Dates and growth."""

    last_shod: Day | None = None
    """The day on which the old shoe was put on."""
    fitted: Day | None = None
    """The day of this fitting."""
    old_hole_drop: Annotated[InputValue, OfQuantity("old_hole_drop")] | None = None
    """How far the old nail holes have grown down since (mm)."""

    @model_validator(mode="after")
    def _in_order(self) -> History:
        if self.last_shod is not None and self.fitted is not None and self.fitted < self.last_shod:
            raise _contradiction("fitted", "it lies before last_shod.", f"{self.last_shod.isoformat()} or later")
        return self


class Outline(Model):
    """Traced outlines in a common frame (mm): toe towards +y, the lateral side named."""

    hoof: Annotated[list[Point], Field(max_length=_MOST_POINTS)]
    """Ground border of the hoof."""
    shoe: Annotated[list[Point], Field(max_length=_MOST_POINTS)]
    """Outer edge of the shoe."""
    nail_holes: Annotated[list[Point], Field(max_length=_MOST_POINTS)] | None = None
    """Centres of the nail holes."""
    lateral: Literal["+x", "-x"]
    """The side of the frame on which the lateral branch lies."""


class Observations(Model):
    """What was observed. Leave out what was not: it is reported as not assessed, never taken as good."""

    heel_fit: HeelFit | None = None
    toe_fit: ToeFit | None = None
    levelness: Levelness | None = None
    nails: Annotated[list[Nail], Field(max_length=14)] | None = None
    scorch: Scorch | None = None
    finish: Finish | None = None
    soundness: Soundness | None = None
    history: History | None = None
    outline: Outline | None = None

    @model_validator(mode="after")
    def _each_nail_once(self) -> Observations:
        seen: set[tuple[str, int]] = set()
        for number, nail in enumerate(self.nails or ()):
            if (nail.branch, nail.hole) in seen:
                raise _contradiction(
                    f"nails.{number}.hole",
                    f"{nail.branch} hole {nail.hole} is given twice.",
                    "each hole of a branch once",
                )
            seen.add((nail.branch, nail.hole))
        return self


class Fitting(Model):
    """One fitted shoe on one foot."""

    foot: FittedFoot
    stage: Stage
    """dressed: the bare foot; hot_fit: the trial; nailed: nails driven; finished: clinched and rasped."""
    work: Work
    """The work that the horse does."""
    hoof_form: HoofForm = "regular"
    """Form of the hoof; base_wide and base_narrow are read as stance."""
    stance: Stance | None = None
    """How the limb stands over the hoof, seen from in front; regular where it is not given."""
    hot_fitted: bool | None = None
    """Whether the shoe was fitted hot; false at stage hot_fit: a cold trial, without imprint."""
    horse: Horse | None = None
    person: Person | None = None
    assessor: Assessor | None = None
    visit: Identifier | None = None
    """Groups the feet of one horse on one day."""
    hoof: Hoof | None = None
    shoe: Shoe | None = None
    observations: Observations
    notes: Annotated[str, Field(max_length=2000)] | None = None
    """Free text; kept, never judged."""

    @model_validator(mode="after")
    def _hot_or_cold(self) -> Fitting:
        if self.hot_fitted is False and self.observations.scorch is not None:
            raise _contradiction(
                "hot_fitted", "scorch is observed, so the shoe was hot.", "true with observations.scorch"
            )
        return self

    @model_validator(mode="after")
    def _one_stance(self) -> Fitting:
        if self.hoof_form in _STANCES and self.stance not in {None, self.hoof_form}:
            raise _contradiction(
                "stance",
                f"hoof_form says {self.hoof_form}, which is a stance.",
                f'"{self.hoof_form}", or hoof_form "regular" with this stance',
            )
        return self

    @property
    def pair(self) -> Foot:
        """Whether it is a fore foot or a hind one."""
        return "fore" if self.foot.endswith("fore") else "hind"

    @property
    def form_and_stance(self) -> tuple[HoofForm, Stance]:
        """The form of the hoof without a stance in it, and the stance."""
        if (stance := _STANCES.get(self.hoof_form)) is not None:
            return "regular", stance
        return self.hoof_form, self.stance or "regular"


def _contradiction(field: str, detail: str, allowed: str) -> PydanticCustomError:
    """An error of the whole model that belongs to one of its fields."""
    return PydanticCustomError(
        "contradiction", "{detail}", {"detail": f"{detail[0].upper()}{detail[1:]}", "allowed": allowed, "field": field}
    )
