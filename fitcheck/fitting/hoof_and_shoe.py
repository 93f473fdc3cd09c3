"""Sizes and forms of the hoof and of the shoe."""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from fitcheck.fitting.input_value import InputValue, OfQuantity
from fitcheck.fitting.model_base import HolePlace, Model, contradiction, each_once

__all__ = ["LINE_WORDS", "Hoof", "Shoe"]

LINE_WORDS = ("on_line", "fine", "inside")
"""Where a hole stands against the white line, as the eye has it."""


class BySide(Model):
    """One reading at each heel."""

    medial: Annotated[InputValue, OfQuantity("coronet_overhang")] | None = None
    lateral: Annotated[InputValue, OfQuantity("coronet_overhang")] | None = None


class Hoof(Model):
    """Dimensions of the hoof."""

    wall_thickness: Annotated[InputValue, OfQuantity("wall_thickness")] | None = None
    """Thickness of the wall at the toe, at its bearing edge, to the inner side of the white line (mm)."""
    quarter_thickness: Annotated[InputValue, OfQuantity("quarter_thickness")] | None = None
    """Thickness of the wall at the quarters (mm)."""
    sole_thickness: Annotated[InputValue, OfQuantity("sole_thickness")] | None = None
    """Thickness of the sole (mm)."""
    wall_height: Annotated[InputValue, OfQuantity("wall_height")] | None = None
    """Height of the wall at the toe, along its slope (mm)."""
    wall_angle: Annotated[InputValue, OfQuantity("wall_angle")] | None = None
    """Slope of the wall to the ground at the toe (deg); a range is taken where it is not given."""
    toe_angle: Annotated[InputValue, OfQuantity("wall_angle")] | None = None
    """The same as wall_angle."""
    heel_angle: Annotated[InputValue, OfQuantity("heel_angle")] | None = None
    """Slope of the wall to the ground at the heels (deg)."""
    heel_height: Annotated[InputValue, OfQuantity("heel_height")] | None = None
    """Height of the wall at the heels, along its slope (mm)."""
    bulbs: Annotated[InputValue, OfQuantity("bulbs")] | None = None
    """From the buttress back to the end of the bulb of the heel (mm)."""
    coronet_overhang: BySide | None = None
    """How far a plumb line from the coronet falls outside the ground border at each heel (mm)."""
    heels: Literal["straight", "turned_in"] | None = None
    """How the heels run."""

    @model_validator(mode="after")
    def _one_toe_angle(self) -> Self:
        if self.wall_angle is not None and self.toe_angle not in {None, self.wall_angle}:
            raise contradiction(
                "toe_angle", "it is the same as wall_angle, which is given otherwise.", "one of the two"
            )
        return self


class ShoeHole(HolePlace):
    """One hole of the shoe on the foot."""

    to_white_line: Annotated[InputValue, OfQuantity("to_white_line", LINE_WORDS)] | None = None
    """Middle of the hole from the middle of the white line (mm), outward positive."""


class Calks(Model):
    """Heights of the calks; leave out the one that there is not."""

    medial: Annotated[InputValue, OfQuantity("calk")] | None = None
    lateral: Annotated[InputValue, OfQuantity("calk")] | None = None
    toe: Annotated[InputValue, OfQuantity("calk")] | None = None


class Shoe(Model):
    """Dimensions of the shoe."""

    thickness: Annotated[InputValue, OfQuantity("shoe_thickness")] | None = None
    """Thickness of the iron (mm). Branch lengths and the clip are judged against it."""
    length: Annotated[InputValue, OfQuantity("shoe_length")] | None = None
    """Length of the shoe from the toe to the ends of the heels (mm)."""
    web: Annotated[InputValue, OfQuantity("web")] | None = None
    """Width of the web (mm)."""
    plate: Literal["flat", "rocks", "hollow", "trough", "saucer"] | None = None
    """How the shoe lies on a level plate."""
    seating_to_heel: Annotated[InputValue, OfQuantity("seating_to_heel")] | None = None
    """From the end of the seating to the end of the heel (mm)."""
    fuller_depth: Annotated[InputValue, OfQuantity("fuller_depth")] | None = None
    """Depth of the fuller (mm)."""
    roll: Annotated[InputValue, OfQuantity("roll")] | None = None
    """Lift of the rolled toe (mm)."""
    calks: Calks | None = None
    """Heights of the calks (mm)."""
    weight: Annotated[InputValue, OfQuantity("shoe_weight")] | None = None
    """Weight of the shoe (kg)."""
    edges: Literal["filed", "sharp"] | None = None
    """What a finger along the edges feels."""
    hole_spacing: Annotated[InputValue, OfQuantity("hole_spacing")] | None = None
    """Middle of one nail hole to the middle of the next (mm)."""
    holes: Annotated[list[ShoeHole], Field(max_length=12)] | None = None
    """The holes, also those without a nail."""
    refit: bool | None = None
    """Whether a worn shoe was put on again; new_thickness then says how thick it was when new."""
    new_thickness: Annotated[InputValue, OfQuantity("new_thickness")] | None = None
    """Thickness of the iron when it was new (mm); of a refit alone."""

    @model_validator(mode="after")
    def _holes_and_refit(self) -> Self:
        each_once("holes.{number}.hole", (hole.place for hole in self.holes or ()), "each hole of a branch once")
        if self.new_thickness is not None and self.refit is False:
            raise contradiction("new_thickness", "refit says that the shoe is new.", "no new_thickness, or refit true")
        return self
