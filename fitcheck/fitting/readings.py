"""From a fitting to readings: what was observed, in the rulebook's quantities, places, units and words."""

from __future__ import annotations

from fitcheck.fitting.input_value import InputValue, measured_value
from fitcheck.fitting.models import Fitting, Nail
from rules import Reading, Rulebook, Situation

__all__ = ["nail_place", "readings_as_sent", "readings_of", "situation_of"]


def situation_of(fitting: Fitting) -> Situation:
    """What holds for the whole foot.

    A shoe at stage hot_fit is hot.  Later, a fitting that does not say is taken as hot: then the heat's limits apply
    to whatever was observed, and a scorch that was not observed is missing.
    """
    hot = fitting.hot_fitted is not False
    return Situation(
        foot="fore" if fitting.foot.endswith("fore") else "hind",
        stage=fitting.stage,
        work=fitting.work,
        hoof_form=fitting.hoof_form,
        hot_fitted="yes" if hot else "no",
    )


def nail_place(nail: Nail) -> str:
    """The place of one nail, such as ``nail:medial:2``."""
    return f"nail:{nail.branch}:{nail.hole}"


class _Collector:
    """Gathers readings, leaving out what was not observed."""

    def __init__(self, book: Rulebook) -> None:
        self.readings: list[Reading] = []
        self._book = book
        self._units = book.units
        self._usual_u = book.usual_u

    def number(self, quantity: str, place: str, reading_input: InputValue | None) -> None:
        if reading_input is None:
            return
        value = reading_input.value
        if (
            value is not None
            and reading_input.u is None
            and reading_input.method is None
            and reading_input.unit == self._units.get(quantity)
        ):
            # As most readings are given: a bare number in the quantity's own unit.
            self.readings.append(Reading(quantity, place, value, self._usual_u[quantity]))
        else:
            self.readings.append(Reading(quantity, place, *measured_value(reading_input, quantity, self._book)))

    def numbers(self, source: object, place: str, *quantities: str) -> None:
        """Quantities that bear the same name as the fields of ``source``; none when that was left out."""
        for quantity in quantities if source is not None else ():
            self.number(quantity, place, getattr(source, quantity))

    def words(self, source: object, place: str, *quantities: str) -> None:
        """Words and flags that bear the same name as the fields of ``source``; none when that was left out."""
        for quantity in quantities if source is not None else ():
            word = getattr(source, quantity)
            if word is not None:
                shown = ("yes" if word else "no") if isinstance(word, bool) else word
                self.readings.append(Reading(quantity, place, shown))


class _AsSent(_Collector):
    """Gathers numbers as they were given, not settled."""

    def __init__(self, book: Rulebook) -> None:
        super().__init__(book)
        self.reading_input: dict[tuple[str, str], InputValue] = {}

    def number(self, quantity: str, place: str, reading_input: InputValue | None) -> None:
        if reading_input is not None:
            self.reading_input[quantity, place] = reading_input


def readings_of(fitting: Fitting, book: Rulebook) -> list[Reading]:
    """Every reading that the fitting states, each with its standard uncertainty; nothing is computed."""
    gathered = _Collector(book)
    _gather(fitting, gathered)
    return gathered.readings


def readings_as_sent(fitting: Fitting, book: Rulebook) -> dict[tuple[str, str], InputValue]:
    """Every number that the fitting states, as it was given, by quantity and place."""
    gathered = _AsSent(book)
    _gather(fitting, gathered)
    return gathered.reading_input


def _gather(fitting: Fitting, gathered: _Collector) -> None:
    seen = fitting.observations
    gathered.numbers(fitting.hoof, "foot", "wall_thickness", "sole_thickness", "wall_height", "wall_angle")
    if fitting.shoe is not None:
        gathered.number("shoe_thickness", "foot", fitting.shoe.thickness)
        gathered.number("shoe_length", "foot", fitting.shoe.length)
    if seen.heel_fit is not None:
        gathered.numbers(seen.heel_fit.medial, "medial_heel", "length", "width", "frog_gap")
        gathered.numbers(seen.heel_fit.lateral, "lateral_heel", "length", "width", "frog_gap")
    if seen.toe_fit is not None:
        gathered.numbers(seen.toe_fit, "toe", "overhang", "clip_height")
        gathered.words(seen.toe_fit, "toe", "wall_rasped_back", "clip")
        gathered.number("overhang", "medial_quarter", seen.toe_fit.medial_overhang)
        gathered.number("overhang", "lateral_quarter", seen.toe_fit.lateral_overhang)
    if seen.levelness is not None:
        gathered.words(seen.levelness, "foot", "rocks")
        for place, gap in (seen.levelness.gaps or {}).items():
            gathered.number("gap", place, gap)
    for nail in seen.nails or ():
        at = nail_place(nail)
        gathered.numbers(nail, at, "exit_height", "position", "hole_inset")
        gathered.words(nail, at, "sound", "reaction", "blood", "clinch")
    gathered.numbers(seen.scorch, "foot", "coverage", "contact_time")
    gathered.words(seen.scorch, "foot", "shoe_heat")
    gathered.numbers(seen.scorch, "sole", "sole_scorch")
    gathered.words(seen.scorch, "sole", "sole_pressure")
    gathered.words(seen.finish, "foot", "hand", "rasped_above_clinches")
    gathered.words(seen.soundness, "foot", "trot_up")
