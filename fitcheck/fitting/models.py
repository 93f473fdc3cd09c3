"""A fitting: everything observed of one shod foot, as outside clients send it (JSON field names are fixed)."""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Final, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from fitcheck.fitting.fit_observations import HeelFit, Levelness, Nail, NailsEven, Outline, ToeFit
from fitcheck.fitting.foot_observations import Dressing, Finish, Going, History, OldShoe, Scorch, Seen, Soundness
from fitcheck.fitting.hoof_and_shoe import Hoof, Shoe
from fitcheck.fitting.identity import Identifier, LifeNumber, OpaqueId, Transponder
from fitcheck.fitting.model_base import FittedFoot, Model, contradiction, each_once
from fitcheck.fitting.own_readings import OwnReadings
from rules.model.records import Foot, HoofForm, Stage, Stance, Work

__all__ = ["FittedFoot", "Fitting", "Nail", "Observations", "Outline", "Scorch"]

_STANCES: Final[Mapping[str, Stance]] = {"base_wide": "base_wide", "base_narrow": "base_narrow"}
"""Words of hoof_form that are stances, as the first contract had them."""

_AS_BEFORE: Final = ("heel_fit", "toe_fit", "levelness")
"""The parts of the observations that stand as they were only where they say so."""

_OF_A_BARE_FOOT: Final = frozenset({"dressing", "seen", "old_shoe", "going", "history", "own"})
"""What can be observed before there is a shoe."""


def _may_follow(schema: dict[str, Any]) -> None:
    """What follows another assessment may leave the work out."""
    schema["required"].remove("work")


FieldPath = Annotated[str, Field(min_length=1, max_length=120)]
"""The path of a field of the fitting, such as ``observations.heel_fit.medial.width``."""


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


class External(Model):
    """The key that another system has for this fitting; kept and filtered by, never judged."""

    system: Identifier
    """Which system it is."""
    id: Identifier
    """The fitting's own key there."""


class Observations(Model):
    """What was observed. Leave out what was not: it is reported as not assessed, never taken as good."""

    dressing: Dressing | None = None
    seen: Annotated[list[Seen], Field(max_length=54)] | None = None
    """What was seen on the foot; an empty list says that nothing was."""
    old_shoe: OldShoe | None = None
    heel_fit: HeelFit | None = None
    toe_fit: ToeFit | None = None
    levelness: Levelness | None = None
    nails: Annotated[list[Nail], Field(max_length=14)] | None = None
    nails_even: NailsEven | None = None
    """Whether the exits lie in one line, by branch."""
    scorch: Scorch | None = None
    finish: Finish | None = None
    soundness: Soundness | None = None
    """Read as going."""
    going: Going | None = None
    history: History | None = None
    outline: Outline | None = None
    own: Annotated[dict[str, dict[str, Any]], OwnReadings()] | None = None
    """Readings of quantities that the rulebook has of its own, by quantity and place; `/v1/rulebook` has them all."""

    @model_validator(mode="after")
    def _each_nail_once(self) -> Self:
        seen: set[tuple[str, int]] = set()
        for number, nail in enumerate(self.nails or ()):
            if (nail.branch, nail.hole) in seen:
                raise contradiction(
                    f"nails.{number}.hole",
                    f"{nail.branch} hole {nail.hole} is given twice.",
                    "each hole of a branch once",
                )
            seen.add((nail.branch, nail.hole))
        each_once("seen.{number}.what", (f"{each.what} at {each.place}" for each in self.seen or ()), "each place once")
        return self

    @model_validator(mode="after")
    def _old_names_agree(self) -> Self:
        allowed = "one of the two, or the same in both"
        if self.soundness is not None and self.going is not None:
            before, now = self.soundness.trot_up, self.going.trot_up
            if before is not None and now is not None and before != now:
                raise contradiction("going.trot_up", f"soundness.trot_up says {before}.", allowed)
        if self.scorch is not None and self.levelness is not None:
            hot, tried = self.scorch.sole_pressure, self.levelness.sole_pressure
            if hot is not None and tried is not None and hot != tried:
                raise contradiction("levelness.sole_pressure", "scorch.sole_pressure says otherwise.", allowed)
        return self

    @property
    def of_a_shoe(self) -> Iterator[str]:
        """The paths of what was observed and is not to be seen on a bare foot."""
        for name in type(self).model_fields:
            part = getattr(self, name)
            if part is not None and name not in _OF_A_BARE_FOOT:
                yield name
        for name in Going.model_fields if self.going is not None else ():
            if name != "before" and getattr(self.going, name) is not None:
                yield f"going.{name}"


class Fitting(Model):
    """One fitted shoe on one foot."""

    model_config = ConfigDict(json_schema_extra=_may_follow)

    foot: FittedFoot
    stage: Stage
    """dressed: the bare foot; hot_fit: the trial; nailed: nails driven; finished: clinched and rasped."""
    work: Work
    """The work that the horse does; it may be left out with follows."""
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
    follows: Identifier | None = None
    """The id of the kept assessment of the same foot before this one: what is left out here stands as it was observed
    then."""
    external: External | None = None
    good_as_a_whole: Annotated[list[FieldPath], Field(max_length=400)] | None = None
    """The fields whose word was stated of a whole group with one button ("looked at, good"), by their paths.

    An empty list says that each word was said by itself. Kept, never judged: what was said of a whole group tells
    nothing of the eye that said it.
    """
    hoof: Hoof | None = None
    shoe: Shoe | None = None
    observations: Observations
    notes: Annotated[str, Field(max_length=2000)] | None = None
    """Free text; kept, never judged."""

    @model_validator(mode="after")
    def _hot_or_cold(self) -> Self:
        if self.hot_fitted is False and self.observations.scorch is not None:
            raise contradiction(
                "hot_fitted", "scorch is observed, so the shoe was hot.", "true with observations.scorch"
            )
        return self

    @model_validator(mode="after")
    def _one_stance(self) -> Self:
        if self.hoof_form in _STANCES and self.stance not in {None, self.hoof_form}:
            raise contradiction(
                "stance",
                f"hoof_form says {self.hoof_form}, which is a stance.",
                f'"{self.hoof_form}", or hoof_form "regular" with this stance',
            )
        return self

    @model_validator(mode="after")
    def _bare_when_dressed(self) -> Self:
        if self.stage != "dressed":
            return self
        field = next((f"observations.{name}" for name in self.observations.of_a_shoe), None)
        if self.shoe is not None:
            field = "shoe"
        if field is not None:
            raise contradiction(
                field,
                "stage dressed is the bare foot, before the shoe.",
                "hoof, and of observations dressing, going.before, history, seen and old_shoe",
            )
        return self

    @model_validator(mode="after")
    def _as_before_what(self) -> Self:
        for name in _AS_BEFORE if self.follows is None else ():
            if getattr(getattr(self.observations, name), "as_before", None):
                raise contradiction(
                    f"observations.{name}.as_before",
                    "there is no assessment before: follows is left out.",
                    "as_before with follows, the id of the assessment before",
                )
        return self

    @model_validator(mode="after")
    def _good_is_there(self) -> Self:
        for number, path in enumerate(self.good_as_a_whole or ()):
            if not _leads_to_something(self, path):
                raise contradiction(
                    f"good_as_a_whole.{number}",
                    f"nothing was sent at {path}.",
                    "the path of a field that was sent, such as observations.heel_fit.medial.width",
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


def _leads_to_something(fitting: Fitting, path: str) -> bool:
    here: Any = fitting
    for step in path.split("."):
        if isinstance(here, list):
            here = here[int(step)] if step.isdigit() and int(step) < len(here) else None
        else:
            here = here.get(step) if isinstance(here, dict) else getattr(here, step, None)
        if here is None:
            return False
    return True
