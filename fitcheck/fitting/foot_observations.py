"""What was observed of the foot and the horse: dressing, signs seen, the old shoe, scorch, finish, going, history."""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from typing import Annotated, Final, Literal, Self, get_args

from pydantic import Field, model_validator

from fitcheck.fitting.input_value import InputValue, OfQuantity
from fitcheck.fitting.model_base import MOST_POINTS, Day, GapPlace, Model, contradiction, each_once

__all__ = [
    "HEATS",
    "SEEN_PLACES",
    "SEEN_WORDS",
    "Dressing",
    "Finish",
    "Going",
    "History",
    "OldShoe",
    "Scorch",
    "Seen",
    "Soundness",
]


class Dressing(Model):
    """How the foot was dressed."""

    axis: Literal["straight", "broken_back", "broken_forward"] | None = None
    """Hoof against pastern, from the side."""
    axis_front: Literal["middle", "inner_toe", "outer_toe"] | None = None
    """Where the weight falls, from in front."""
    across: Literal["level", "inner_high", "outer_high"] | None = None
    """Level across, heel to heel."""
    surface: Literal["level", "uneven", "below_sole"] | None = None
    """The bearing surface."""
    sole: Literal["whole", "pared", "cut_thin"] | None = None
    frog: Literal["whole", "trimmed", "cut_away"] | None = None
    bars: Literal["whole", "shortened", "cut_away"] | None = None
    seat_of_corn: Literal["free", "bears"] | None = None
    """The angle between bar and wall."""
    horn: Literal["sound", "broken"] | None = None
    """The bearing horn under the shoe."""
    edge: Literal["rounded", "sharp"] | None = None
    """The lower edge of the wall."""
    flare: Literal["none", "slight", "marked"] | None = None
    toe_shortened: bool | None = None
    """Whether the toe was shortened from in front."""
    old_stubs: bool | None = None
    """Whether stubs of old nails were left in the wall."""


SeenPlace = Literal[
    "toe",
    "medial_toe",
    "lateral_toe",
    "medial_quarter",
    "lateral_quarter",
    "medial_heel",
    "lateral_heel",
    "sole",
    "foot",
]
SEEN_PLACES: Final[tuple[SeenPlace, ...]] = get_args(SeenPlace)
SEEN_WORDS: Final = ("seen", "deep", "examined")
"""How one thing seen is read: examined goes before deep."""


class Seen(Model):
    """One thing seen on the foot, whatever the stage."""

    what: Literal["crack", "bruise", "smell", "heat", "discharge", "blood"]
    place: SeenPlace
    deep: bool | None = None
    """Whether it goes deep."""
    examined: bool | None = None
    """Whether a veterinary surgeon or a licensed farrier has examined it."""

    @property
    def word(self) -> str:
        """How it is read, one of SEEN_WORDS."""
        return "examined" if self.examined else "deep" if self.deep else "seen"


class OldShoe(Model):
    """The shoe that came off."""

    wear: Literal["even", "toe", "heels", "inner", "outer"] | None = None
    """Where it was worn most."""
    on_sole: bool | None = None
    """Whether it lay on the sole."""
    carried_forward: bool | None = None
    """Whether the foot had carried it forward off the heels."""
    slack_nails: bool | None = None
    """Whether its nails had worked loose."""


Arc = Annotated[list[Annotated[float, Field(allow_inf_nan=False, ge=-180, le=180)]], Field(min_length=2, max_length=2)]
Heat = Literal["black", "dull_red", "cherry", "bright"]
HEATS: Final[tuple[Heat, ...]] = get_args(Heat)
"""From the coolest to the hottest."""
_CONTACT_WORDS = ("few_seconds", "half_minute", "long")


class Hold(Model):
    """One application of the hot shoe to the foot."""

    start: Annotated[float, Field(allow_inf_nan=False, ge=0, le=7200)]
    """When it began, from the first one (s)."""
    seconds: Annotated[InputValue, OfQuantity("contact_time", _CONTACT_WORDS)]
    """How long it lasted (s)."""
    heat: Heat | None = None
    """Heat of the shoe by its colour."""


class Scorch(Model):
    """What the hot shoe left on the horn."""

    arcs: Annotated[list[Arc], Field(max_length=MOST_POINTS)] | None = None
    """Stretches of the bearing wall that took the imprint, [from, to] in degrees.

    0 at the toe, positive to the lateral side, heels at +/-150.
    """
    coverage: Annotated[InputValue, OfQuantity("coverage", ("whole", "patchy", "poor"))] | None = None
    """Share of the bearing wall that took the imprint, 0 to 1."""
    dark: Annotated[list[GapPlace], Field(max_length=5)] | None = None
    """Places where the imprint is darker than elsewhere; an empty list says that there is none."""
    sole_scorch: Annotated[InputValue, OfQuantity("sole_scorch", ("untouched", "edge", "scorched"))] | None = None
    """How far the sole is scorched inside the white line (mm)."""
    sole_pressure: bool | None = None
    """Whether the shoe bears on the sole; the same as levelness.sole_pressure."""
    shoe_heat: Heat | None = None
    """Heat of the shoe by its colour."""
    contact_time: Annotated[InputValue, OfQuantity("contact_time", _CONTACT_WORDS)] | None = None
    """How long the shoe was held to the foot, longest single application (s)."""
    further_contact_times: (
        Annotated[list[Annotated[InputValue, OfQuantity("contact_time")]], Field(max_length=20)] | None
    ) = None
    """Every other application of the hot shoe to this foot (s); they add up."""
    holds: Annotated[list[Hold], Field(min_length=1, max_length=20)] | None = None
    """Every application of the hot shoe, instead of contact_time and further_contact_times."""

    @model_validator(mode="after")
    def _each_hold_once(self) -> Self:
        for field in ("contact_time", "further_contact_times"):
            if self.holds is not None and getattr(self, field) is not None:
                raise contradiction(field, "holds tells of every application.", f"holds without {field}, or it alone")
        each_once("dark.{number}", self.dark or (), "each place once")
        last_end = 0.0
        for number, hold in enumerate(self.holds or ()):
            if hold.start < last_end:
                raise contradiction(f"holds.{number}.start", "it begins before the one before it ends.", "in order")
            last_end = hold.start + (hold.seconds.value or 0.0)
        return self


class Finish(Model):
    """The finished wall and clinches."""

    hand: Literal["smooth", "rough", "sharp"] | None = None
    """What a hand run over wall and clinches feels."""
    rasped_above_clinches: bool | None = None
    """Whether the wall was rasped above the clinches."""
    rasped_below: Literal["none", "lightly", "heavily"] | None = None
    """How much the wall was rasped below the clinches."""


class Soundness(Model):
    """How the horse goes."""

    trot_up: Literal["sound", "uneven", "lame"] | None = None
    """How the horse trots up; the same as going.trot_up."""


class Going(Model):
    """How the horse went before shoeing and goes now."""

    before: Literal["sound", "uneven", "lame"] | None = None
    """How it trotted up before it was shod."""
    walk: Literal["free", "short"] | None = None
    turn: Literal["free", "tender"] | None = None
    """How it turns on this foot."""
    trot_up: Literal["sound", "uneven", "lame"] | None = None
    """How it trots up."""
    landing: Literal["flat", "toe_first", "heel_first", "inner_first", "outer_first"] | None = None
    """How the foot comes down."""
    stands: Literal["quiet", "frets"] | None = None
    """How it stands on this foot while the other one is lifted."""
    strikes: Literal["none", "brushes", "forges", "treads"] | None = None
    """Whether this foot strikes another."""
    strikes_before: bool | None = None
    """Whether it did so before it was shod."""


class History(Model):
    """Dates and growth."""

    last_shod: Day | None = None
    """The day on which the old shoe was put on."""
    fitted: Day | None = None
    """The day of this fitting."""
    old_hole_drop: Annotated[InputValue, OfQuantity("old_hole_drop")] | None = None
    """How far the old nail holes have grown down since (mm)."""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.last_shod is not None and self.fitted is not None and self.fitted < self.last_shod:
            raise contradiction("fitted", "it lies before last_shod.", f"{self.last_shod.isoformat()} or later")
        return self
