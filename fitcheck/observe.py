"""From a fitting to readings: what was observed, in the rulebook's quantities, places, units and words."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.fitting import Fitting, Nail
from fitcheck.reading import Given, settle
from rules import Reading, Rulebook, Situation

__all__ = ["nail_place", "observed", "situation_of"]


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


def observed(fitting: Fitting, book: Rulebook) -> list[Reading]:
    """Every reading that the fitting states, each with its standard uncertainty; nothing is computed."""
    return [reading for reading in _all(fitting, book) if reading is not None]


def _number(book: Rulebook, quantity: str, place: str, given: Given | None) -> Reading | None:
    if given is None:
        return None
    value, u = settle(given, quantity, book)
    return Reading(quantity, place, value, u)


def _word(quantity: str, place: str, word: str | bool | None) -> Reading | None:
    if word is None:
        return None
    return Reading(quantity, place, ("yes" if word else "no") if isinstance(word, bool) else word)


def _all(fitting: Fitting, book: Rulebook) -> Iterator[Reading | None]:
    if fitting.hoof is not None:
        for quantity in ("wall_thickness", "sole_thickness", "wall_height"):
            yield _number(book, quantity, "foot", getattr(fitting.hoof, quantity))
    if fitting.shoe is not None:
        yield _number(book, "shoe_thickness", "foot", fitting.shoe.thickness)
        yield _number(book, "shoe_length", "foot", fitting.shoe.length)
    seen = fitting.observations
    if seen.heel_fit is not None:
        for side, branch in (("medial", seen.heel_fit.medial), ("lateral", seen.heel_fit.lateral)):
            if branch is not None:
                for quantity in ("length", "width", "frog_gap"):
                    yield _number(book, quantity, f"{side}_heel", getattr(branch, quantity))
    if (toe := seen.toe_fit) is not None:
        yield _number(book, "overhang", "toe", toe.overhang)
        yield _number(book, "overhang", "medial_quarter", toe.medial_overhang)
        yield _number(book, "overhang", "lateral_quarter", toe.lateral_overhang)
        yield _word("wall_rasped_back", "toe", toe.wall_rasped_back)
        yield _word("clip", "toe", toe.clip)
        yield _number(book, "clip_height", "toe", toe.clip_height)
    if (level := seen.levelness) is not None:
        yield _word("rocks", "foot", level.rocks)
        for place, gap in (level.gaps or {}).items():
            yield _number(book, "gap", place, gap)
    for nail in seen.nails or ():
        place = nail_place(nail)
        yield _number(book, "exit_height", place, nail.exit_height)
        yield _number(book, "position", place, nail.position)
        yield _word("sound", place, nail.sound)
        yield _word("reaction", place, nail.reaction)
        yield _word("blood", place, nail.blood)
        yield _word("clinch", place, nail.clinch)
    if (scorch := seen.scorch) is not None:
        yield _number(book, "coverage", "foot", scorch.coverage)
        yield _number(book, "sole_scorch", "sole", scorch.sole_scorch)
        yield _word("sole_pressure", "sole", scorch.sole_pressure)
        yield _word("shoe_heat", "foot", scorch.shoe_heat)
        yield _number(book, "contact_time", "foot", scorch.contact_time)
    if seen.finish is not None:
        yield _word("hand", "foot", seen.finish.hand)
        yield _word("rasped_above_clinches", "foot", seen.finish.rasped_above_clinches)
    if seen.soundness is not None:
        yield _word("trot_up", "foot", seen.soundness.trot_up)
