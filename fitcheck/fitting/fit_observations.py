"""How the shoe lies on the foot: heels, toe and clips, levelness, nails, and what was traced."""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from typing import Annotated, Any, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from fitcheck.fitting.hoof_and_shoe import LINE_WORDS
from fitcheck.fitting.input_value import InputValue, OfQuantity
from fitcheck.fitting.model_base import (
    MOST_POINTS,
    GapPlace,
    HolePlace,
    Model,
    Number,
    Point,
    contradiction,
    each_once,
)
from fitcheck.fitting.own_readings import OwnOfANail

__all__ = [
    "Branch",
    "Clip",
    "ClipPlace",
    "HeelFit",
    "Levelness",
    "Nail",
    "NailsEven",
    "Outline",
    "ToeFit",
]

_TOE_WORDS = ("flush", "over", "set_back")
_NAIL_LINE_WORDS = ("flush", "over", "inside")


class Branch(Model):
    """The heel end of one branch of the shoe."""

    length: Annotated[InputValue, OfQuantity("length", ("right", "short", "long", "uncovered"))] | None = None
    """How far the branch reaches past the buttress of the heel (mm); negative: it ends before it."""
    width: Annotated[InputValue, OfQuantity("width", ("tight", "close", "full", "wide"))] | None = None
    """Width outside the wall from the last nail hole to the heel end (mm, or tight, close, full, wide).

    Of several readings the most between buttress and heel end.
    """
    width_least: Annotated[InputValue, OfQuantity("width_least")] | None = None
    """Least width outside the wall from the last nail back (mm)."""
    frog_gap: Annotated[InputValue, OfQuantity("frog_gap", ("free", "touching"))] | None = None
    """Gap between the branch and the frog (mm)."""
    to_cleft: Annotated[InputValue, OfQuantity("to_cleft")] | None = None
    """End of the branch from the cleft of the frog (mm)."""


class HeelFit(Model):
    """How the shoe fits at the heels."""

    medial: Branch | None = None
    lateral: Branch | None = None
    as_before: bool | None = None
    """Whether what is left out stands as it was observed at the assessment before."""


ClipPlace = Literal["toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter"]


class Clip(Model):
    """One clip."""

    at: ClipPlace
    state: Literal["seated", "proud", "too_deep"] | None = None
    """How it sits in the wall."""
    height: Annotated[InputValue, OfQuantity("clip_height")] | None = None
    """Height above the foot surface of the shoe (mm)."""

    @property
    def place(self) -> str:
        """The place of the clip."""
        return self.at


class ToeFit(Model):
    """How the shoe fits at the toe and along the nail holes."""

    overhang: Annotated[InputValue, OfQuantity("overhang", _TOE_WORDS)] | None = None
    """Iron beyond the wall at the toe (mm); negative: set back, horn beyond iron."""
    medial_overhang: Annotated[InputValue, OfQuantity("overhang", _NAIL_LINE_WORDS)] | None = None
    """Iron beyond the wall along the medial nail line (mm); negative: iron inside the wall."""
    lateral_overhang: Annotated[InputValue, OfQuantity("overhang", _NAIL_LINE_WORDS)] | None = None
    """Iron beyond the wall along the lateral nail line (mm); negative: iron inside the wall."""
    medial_overhang_least: Annotated[InputValue, OfQuantity("overhang_least")] | None = None
    """Least iron beyond the wall along the medial nail line (mm)."""
    lateral_overhang_least: Annotated[InputValue, OfQuantity("overhang_least")] | None = None
    """Least iron beyond the wall along the lateral nail line (mm)."""
    wall_rasped_back: bool | None = None
    """Whether the wall was rasped back to meet the shoe."""
    clip: Literal["none", "seated", "proud", "too_deep"] | None = None
    """How the clip at the toe sits; none: the shoe has no clip."""
    clip_height: Annotated[InputValue, OfQuantity("clip_height")] | None = None
    """Height of the clip at the toe (mm)."""
    clips: Annotated[list[Clip], Field(max_length=5)] | None = None
    """Every clip; an empty list says that there is none."""
    as_before: bool | None = None
    """Whether what is left out stands as it was observed at the assessment before."""

    @model_validator(mode="after")
    def _clips_agree(self) -> Self:
        if self.clip == "none" and self.clip_height is not None:
            raise contradiction(
                "clip_height", "clip says that there is none, yet a height is given.", "no clip_height with clip none"
            )
        if self.clips is None:
            return self
        each_once("clips.{number}.at", (clip.at for clip in self.clips), "each place once")
        at_toe = next((number for number, clip in enumerate(self.clips) if clip.at == "toe"), None)
        if at_toe is None and self.clip not in {None, "none"}:
            raise contradiction("clip", "clips has none at the toe.", "the clip at the toe among clips, or clip none")
        if at_toe is None and self.clip_height is not None:
            raise contradiction("clip_height", "clips has none at the toe.", "the clip at the toe among clips")
        if at_toe is not None:
            self._same_at_toe(at_toe, self.clips[at_toe])
        return self

    def _same_at_toe(self, number: int, clip: Clip) -> None:
        allowed = "one of the two, or the same in both"
        if self.clip is not None and self.clip != (clip.state or self.clip):
            raise contradiction(f"clips.{number}.state", f"clip says {self.clip} of the same clip.", allowed)
        if self.clip == "none":
            raise contradiction(f"clips.{number}.at", "clip says that there is none.", allowed)
        if self.clip_height is not None and clip.height not in {None, self.clip_height}:
            raise contradiction(f"clips.{number}.height", "clip_height gives another for the same clip.", allowed)


HeightPoint = Annotated[list[Number], Field(min_length=3, max_length=4)]


class Levelness(Model):
    """How level the foot is and how the shoe lies on it."""

    rocks: bool | None = None
    """Whether the shoe rocks on the foot."""
    gaps: dict[GapPlace, Annotated[InputValue, OfQuantity("gap", ("none", "daylight", "open"))] | None] | None = None
    """Gap between shoe and horn by place (mm, feeler gauge)."""
    sole_pressure: bool | None = None
    """Whether the shoe bears on the sole, hot or cold."""
    heights: Annotated[list[HeightPoint], Field(max_length=MOST_POINTS)] | None = None
    """Measured heights of the bearing surface: x, y, height (mm), toe towards +y; a fourth number is its u."""
    heights_u: Annotated[float, Field(allow_inf_nan=False, ge=0, le=20)] | None = None
    """Standard uncertainty of each height that states none (mm); that of a calliper where it is not given."""
    medial_height: Annotated[InputValue, OfQuantity("wall_height")] | None = None
    """Height of the medial wall (mm)."""
    lateral_height: Annotated[InputValue, OfQuantity("wall_height")] | None = None
    """Height of the lateral wall (mm)."""
    as_before: bool | None = None
    """Whether what is left out stands as it was observed at the assessment before."""

    @model_validator(mode="after")
    def _heights_with_their_u(self) -> Self:
        if self.heights is None and self.heights_u is not None:
            raise contradiction("heights_u", "no heights are given.", "heights_u beside heights")
        for number, point in enumerate(self.heights or ()):
            if len(point) > 3 and point[3] < 0:  # noqa: PLR2004
                raise contradiction(f"heights.{number}.3", "u, the standard uncertainty, is negative.", "0 or more")
        return self


class Nail(HolePlace):
    """One nail and what was seen, heard and felt of it."""

    exit_height: Annotated[InputValue, OfQuantity("exit_height", ("right", "low", "high"))] | None = None
    """Where the nail leaves the wall, above the shoe, along the slope of the wall (mm)."""
    wall_height: Annotated[InputValue, OfQuantity("wall_height")] | None = None
    """Height of the wall at that place, along its slope (mm)."""
    wall_thickness: Annotated[InputValue, OfQuantity("wall_at_nail")] | None = None
    """Thickness of the wall at that place (mm)."""
    position: Annotated[InputValue, OfQuantity("position")] | None = None
    """How far back the nail stands, as a fraction of the shoe's length from the toe."""
    hole_inset: Annotated[InputValue, OfQuantity("hole_inset")] | None = None
    """Distance of the hole from the outer edge of the wall, at the bearing surface (mm)."""
    to_white_line: Annotated[InputValue, OfQuantity("to_white_line", LINE_WORDS)] | None = None
    """Middle of the hole from the middle of the white line (mm), outward positive."""
    width: Annotated[InputValue, OfQuantity("nail_width")] | None = None
    """Width of the nail's shank (mm)."""
    sound: Literal["firm", "soft"] | None = None
    """How the nail drove: firm and ringing, or soft and dull."""
    reaction: Literal["none", "flinch"] | None = None
    """What the horse did."""
    blood: bool | None = None
    """Whether blood was seen at the nail."""
    head: Literal["seated", "proud", "loose"] | None = None
    """How the head sits in its hole."""
    clinch: Literal["flush", "proud", "cracked", "pulled", "missing", "sharp", "thin"] | None = None
    """State of the clinch."""
    clinch_length: Annotated[InputValue, OfQuantity("clinch_length")] | None = None
    """Length of the clinch (mm)."""
    notched: bool | None = None
    """Whether a notch was cut for the clinch."""
    at_clip: bool | None = None
    """Whether the nail stands in the place of a clip."""
    own: Annotated[dict[str, Any], OwnOfANail()] | None = None
    """Readings of quantities that the rulebook has of its own at each nail, by quantity."""


class NailsEven(Model):
    """Whether the exits of a branch lie in one line, as the eye has it."""

    medial: Literal["even", "uneven"] | None = None
    lateral: Literal["even", "uneven"] | None = None


class Buttresses(Model):
    """Where each buttress lies in the frame of the traces."""

    medial: Point | None = None
    lateral: Point | None = None


class Scale(Model):
    """A known distance in the frame of the traces."""

    model_config = ConfigDict(serialize_by_alias=True)

    from_: Annotated[Point, Field(alias="from")]
    to: Point
    mm: Annotated[float, Field(allow_inf_nan=False, ge=1, le=1000)]
    """The distance between the two points."""
    u: Annotated[float, Field(allow_inf_nan=False, ge=0, le=100)] | None = None
    """Its standard uncertainty (mm)."""


class Made(Model):
    """How the traces were made."""

    by: Literal["pencil", "photograph", "scanner"]
    u: Annotated[float, Field(allow_inf_nan=False, ge=0, le=100)] | None = None
    """Standard uncertainty of a point (mm)."""


class Outline(Model):
    """Traced outlines in a common frame (mm): toe towards +y, the lateral side named."""

    hoof: Annotated[list[Point], Field(max_length=MOST_POINTS)]
    """Ground border of the hoof."""
    shoe: Annotated[list[Point], Field(max_length=MOST_POINTS)]
    """Outer edge of the shoe."""
    nail_holes: Annotated[list[Point], Field(max_length=MOST_POINTS)] | None = None
    """Centres of the nail holes."""
    lateral: Literal["+x", "-x"]
    """The side of the frame on which the lateral branch lies."""
    buttresses: Buttresses | None = None
    """The buttresses of the heels, on the hoof's border; the ends of an open trace are buttresses too."""
    hidden: Annotated[list[Annotated[list[Point], Field(min_length=2, max_length=2)]], Field(max_length=100)] | None = (
        None
    )
    """Stretches of the hoof's border that could not be seen, from one point to another: nothing is computed there.

    What hides the iron is said by the border beside it, and the trace of the shoe then has no point there.
    """
    scale: Scale | None = None
    """A known distance in the frame; the traces are brought to it."""
    made: Made | None = None
    """How the traces were made."""
