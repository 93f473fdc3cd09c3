"""Which field of a fitting gives which reading, and which measure computes which: the contract as rulebooks see it.

A field that gives a reading of its own, or a measure that computes another, gets a row in :data:`ROWS`; a field that
only enters what is computed gets one in :data:`INPUT_ROWS`; any other is listed in :data:`OTHER_FIELDS`.  Readings, the
analysis of rulebooks, completeness and the page's steps all come from these rows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Final, NamedTuple, get_args

from fitcheck.fitting.field_words import words_at
from fitcheck.fitting.fit_observations import ClipPlace
from fitcheck.fitting.foot_observations import HEATS, SEEN_PLACES, SEEN_WORDS
from fitcheck.fitting.own_readings import OWN, own_path, own_quantities
from fitcheck.fitting.pair_rows import PAIR_ROWS
from fitcheck.fitting.row import Row, path_of
from rules import Rulebook
from rules.model.records import Context
from rules.situation import Observable

__all__ = [
    "ARCS",
    "HEIGHTS",
    "INPUT_ROWS",
    "NAILS",
    "OF_A_CLIP",
    "OTHER_FIELDS",
    "OUTLINE",
    "ROWS",
    "STATED",
    "InputRow",
    "fields_of",
    "observables",
    "observables_of",
    "row_of",
]

_HEELS: Final = ("medial_heel", "lateral_heel")
_QUARTERS: Final = ("medial_quarter", "lateral_quarter")
_GAPS: Final = ("toe", *_QUARTERS, *_HEELS)
_CLIPS: Final = get_args(ClipPlace)
_FOOT: Final = ("foot",)
_NAIL: Final = ("nail",)
_SHOD: Final = (Context(stage=("hot_fit", "nailed", "finished")),)
_HOT: Final = (Context(hot_fitted=("yes",), stage=("hot_fit", "nailed", "finished")),)

_HEEL: Final = "observations.heel_fit.{side}"
_TOE: Final = "observations.toe_fit"
_LEVELNESS: Final = "observations.levelness"
_SCORCH: Final = "observations.scorch"
_HISTORY: Final = "observations.history"
_DRESSING: Final = "observations.dressing"
_OLD_SHOE: Final = "observations.old_shoe"
_GOING: Final = "observations.going"
_EACH_CLIP: Final = f"{_TOE}.clips.{{clip}}"
_EACH_HOLE: Final = "shoe.holes.{hole}"
_SEEN: Final = "observations.seen"
NAILS: Final = "observations.nails"
HEIGHTS: Final = f"{_LEVELNESS}.heights"
ARCS: Final = f"{_SCORCH}.arcs"
OUTLINE: Final = "observations.outline"
_EACH_NAIL: Final = f"{NAILS}.{{nail}}"
_OF_A_BARE_FOOT: Final = ("hoof.", _DRESSING, _OLD_SHOE, _SEEN, _HISTORY, f"{_GOING}.before")
"""The fields that a foot without its shoe has."""

_FIRST_ROWS: Final = (
    Row("wall_thickness", _FOOT, "hoof.wall_thickness", "mm"),
    Row("sole_thickness", _FOOT, "hoof.sole_thickness", "mm"),
    Row("wall_height", _FOOT, "hoof.wall_height", "mm"),
    Row("wall_angle", _FOOT, "hoof.wall_angle", "deg"),
    Row("shoe_thickness", _FOOT, "shoe.thickness", "mm"),
    Row("shoe_length", _FOOT, "shoe.length", "mm"),
    Row("length", _HEELS, f"{_HEEL}.length", "mm"),
    Row("width", _HEELS, f"{_HEEL}.width", "mm"),
    Row("frog_gap", _HEELS, f"{_HEEL}.frog_gap", "mm"),
    Row("overhang", ("toe",), f"{_TOE}.overhang", "mm"),
    Row("clip_height", ("toe",), f"{_TOE}.clip_height", "mm"),
    Row("wall_rasped_back", ("toe",), f"{_TOE}.wall_rasped_back"),
    Row("clip", ("toe",), f"{_TOE}.clip"),
    Row("overhang", _QUARTERS, f"{_TOE}.{{side}}_overhang", "mm"),
    Row("rocks", _FOOT, f"{_LEVELNESS}.rocks"),
    Row("gap", _GAPS, f"{_LEVELNESS}.gaps.{{place}}", "mm"),
    Row("exit_height", _NAIL, f"{_EACH_NAIL}.exit_height", "mm"),
    Row("position", _NAIL, f"{_EACH_NAIL}.position", "1"),
    Row("hole_inset", _NAIL, f"{_EACH_NAIL}.hole_inset", "mm"),
    Row("sound", _NAIL, f"{_EACH_NAIL}.sound"),
    Row("reaction", _NAIL, f"{_EACH_NAIL}.reaction"),
    Row("blood", _NAIL, f"{_EACH_NAIL}.blood"),
    Row("clinch", _NAIL, f"{_EACH_NAIL}.clinch"),
    Row("coverage", _FOOT, f"{_SCORCH}.coverage", "1"),
    Row("contact_time", _FOOT, f"{_SCORCH}.contact_time", "s"),
    Row("shoe_heat", _FOOT, f"{_SCORCH}.shoe_heat"),
    Row("sole_scorch", ("sole",), f"{_SCORCH}.sole_scorch", "mm"),
    Row("sole_pressure", ("sole",), f"{_SCORCH}.sole_pressure"),
    Row("hand", _FOOT, "observations.finish.hand"),
    Row("rasped_above_clinches", _FOOT, "observations.finish.rasped_above_clinches"),
    Row("trot_up", _FOOT, "observations.soundness.trot_up"),
    # Of what is given and computed the worse counts.
    Row("length", _HEELS, OUTLINE, "mm", "outline_fit"),
    Row("width", _HEELS, OUTLINE, "mm", "outline_fit"),
    Row("width_least", _HEELS, OUTLINE, "mm", "outline_fit"),
    Row("overhang", ("toe", *_QUARTERS), OUTLINE, "mm", "outline_fit"),
    Row("overhang_least", _QUARTERS, OUTLINE, "mm", "outline_fit"),
    Row("shoe_length", _FOOT, OUTLINE, "mm", "outline_fit"),
    Row("position", _NAIL, f"{OUTLINE}.nail_holes", "1", "outline_fit"),
    Row("hole_inset", _NAIL, f"{OUTLINE}.nail_holes", "mm", "outline_fit"),
    Row("hole_to_white_line", _NAIL, f"{OUTLINE}.nail_holes", "mm", "outline_fit"),
    Row("branch_difference", _FOOT, "observations.heel_fit", "mm", "branch_difference"),
    Row("height_difference", _FOOT, f"{_LEVELNESS}.medial_height", "mm", "height_difference"),
    Row("exit_ratio", _NAIL, f"{_EACH_NAIL}.wall_height", "1", "exit_ratios"),
    Row("evenness", _QUARTERS, NAILS, "mm", "unevenness"),
    Row("nail_count", _FOOT, NAILS, "1", "nail_count"),
    Row("days_since_shod", _FOOT, f"{_HISTORY}.last_shod", "d", "growth_and_interval"),
    Row("growth_rate", _FOOT, f"{_HISTORY}.old_hole_drop", "mm/month", "growth_and_interval"),
    Row("heel_support_left", _HEELS, f"{_HISTORY}.fitted", "d", "heel_support"),
    Row("flatness", _FOOT, HEIGHTS, "mm", "levelness"),
    Row("tilt_fore_aft", _FOOT, HEIGHTS, "deg", "levelness"),
    Row("tilt_sideways", _FOOT, HEIGHTS, "deg", "levelness"),
    Row("rock", _FOOT, HEIGHTS, "mm", "levelness"),
    Row("gap", _GAPS, HEIGHTS, "mm", "levelness"),
    Row("coverage", _FOOT, ARCS, "1", "scorch"),
    Row("bare_arc", _GAPS, ARCS, "deg", "scorch"),
    Row("inside_temperature", _FOOT, f"{_SCORCH}.shoe_heat", "degC", "heat"),
    Row("time_left", _FOOT, f"{_SCORCH}.shoe_heat", "s", "heat"),
    Row("least_horn", _NAIL, f"{_EACH_NAIL}.hole_inset", "mm", "nail_path"),
    Row("outer_horn", _NAIL, f"{_EACH_NAIL}.hole_inset", "mm", "nail_path"),
    # Only where a reading is given besides one that is computed.
    Row("disagreement", (*_GAPS, *_FOOT), OUTLINE, "1", "disagreements"),
    Row("disagreement", _NAIL, f"{OUTLINE}.nail_holes", "1", "disagreements"),
)
"""The rows of the first contract."""

_EYE_ROWS: Final = tuple(
    Row(f"{name}_by_eye", places, field, None, "by_eye", words)
    for name, places, field, words in (
        ("length", _HEELS, f"{_HEEL}.length", ("right", "short", "long", "uncovered")),
        ("width", _HEELS, f"{_HEEL}.width", ("tight", "close", "full", "wide")),
        ("frog_gap", _HEELS, f"{_HEEL}.frog_gap", ("free", "touching")),
        ("toe_overhang", ("toe",), f"{_TOE}.overhang", ("flush", "over", "set_back")),
        ("nail_line", _QUARTERS, f"{_TOE}.{{side}}_overhang", ("flush", "over", "inside")),
        ("gap", _GAPS, f"{_LEVELNESS}.gaps.{{place}}", ("none", "daylight", "open")),
        ("exit_height", _NAIL, f"{_EACH_NAIL}.exit_height", ("right", "low", "high")),
        ("to_white_line", _NAIL, f"{_EACH_NAIL}.to_white_line", ("on_line", "fine", "inside")),
        ("coverage", _FOOT, f"{_SCORCH}.coverage", ("whole", "patchy", "poor")),
        ("sole_scorch", ("sole",), f"{_SCORCH}.sole_scorch", ("untouched", "edge", "scorched")),
        ("contact_time", _FOOT, f"{_SCORCH}.contact_time", ("few_seconds", "half_minute", "long")),
    )
)
"""What a word of the eye is read as; a rulebook need not know it."""

_SECOND_ROWS: Final = (
    # Other fields for what the first contract has already.
    Row("wall_angle", _FOOT, "hoof.toe_angle", "deg", asked=False),
    Row("width_least", _HEELS, f"{_HEEL}.width_least", "mm", asked=False),
    Row("overhang_least", _QUARTERS, f"{_TOE}.{{side}}_overhang_least", "mm", asked=False),
    Row("clip", _CLIPS, f"{_EACH_CLIP}.state", asked=False),
    Row("clip_height", _CLIPS, f"{_EACH_CLIP}.height", "mm", asked=False),
    Row("sole_pressure", ("sole",), f"{_LEVELNESS}.sole_pressure", asked=False),
    Row("trot_up", _FOOT, f"{_GOING}.trot_up", asked=False),
    Row("contact_time", _FOOT, f"{_SCORCH}.holds", "s", "holds"),
    Row("shoe_heat", _FOOT, f"{_SCORCH}.holds", None, "holds", HEATS),
    Row("inside_temperature", _FOOT, f"{_SCORCH}.shoe_heat", "degC", "heat_inside"),
    Row("peak_time", _FOOT, f"{_SCORCH}.shoe_heat", "s", "heat_inside"),
    Row("time_left", _FOOT, f"{_SCORCH}.shoe_heat", "s", "heat_inside"),
    Row("total_contact", _FOOT, f"{_SCORCH}.contact_time", "s", "heat_inside"),
    # Hoof and shoe.
    Row("quarter_thickness", _FOOT, "hoof.quarter_thickness", "mm"),
    Row("heel_angle", _FOOT, "hoof.heel_angle", "deg"),
    Row("heel_height", _FOOT, "hoof.heel_height", "mm"),
    Row("bulbs", _FOOT, "hoof.bulbs", "mm"),
    Row("coronet_overhang", _HEELS, "hoof.coronet_overhang.{side}", "mm"),
    Row("heels", _FOOT, "hoof.heels"),
    Row("web", _FOOT, "shoe.web", "mm"),
    Row("plate", _FOOT, "shoe.plate"),
    Row("seating_to_heel", _FOOT, "shoe.seating_to_heel", "mm"),
    Row("fuller_depth", _FOOT, "shoe.fuller_depth", "mm"),
    Row("roll", _FOOT, "shoe.roll", "mm"),
    Row("calk", _HEELS, "shoe.calks.{side}", "mm"),
    Row("calk", ("toe",), "shoe.calks.toe", "mm"),
    Row("shoe_weight", _FOOT, "shoe.weight", "kg"),
    Row("shoe_edges", _FOOT, "shoe.edges"),
    Row("hole_spacing", _FOOT, "shoe.hole_spacing", "mm"),
    Row("refit", _FOOT, "shoe.refit"),
    Row("new_thickness", _FOOT, "shoe.new_thickness", "mm"),
    # The dressed foot, what was seen on it, and the shoe that came off.
    *(Row(name, _FOOT, f"{_DRESSING}.{name}") for name in ("axis", "axis_front", "across", "surface", "flare")),
    Row("dressed_sole", ("sole",), f"{_DRESSING}.sole"),
    Row("dressed_frog", _FOOT, f"{_DRESSING}.frog"),
    Row("dressed_bars", _FOOT, f"{_DRESSING}.bars"),
    Row("seat_of_corn", _FOOT, f"{_DRESSING}.seat_of_corn"),
    Row("bearing_horn", _FOOT, f"{_DRESSING}.horn"),
    Row("wall_edge", _FOOT, f"{_DRESSING}.edge"),
    Row("toe_shortened", ("toe",), f"{_DRESSING}.toe_shortened"),
    Row("old_stubs", _FOOT, f"{_DRESSING}.old_stubs"),
    *(
        Row(f"seen_{what}", SEEN_PLACES, _SEEN, None, "seen", SEEN_WORDS)
        for what in ("crack", "bruise", "smell", "heat", "discharge", "blood")
    ),
    Row("old_wear", _FOOT, f"{_OLD_SHOE}.wear"),
    Row("old_on_sole", ("sole",), f"{_OLD_SHOE}.on_sole"),
    Row("old_carried_forward", _FOOT, f"{_OLD_SHOE}.carried_forward"),
    Row("old_slack_nails", _FOOT, f"{_OLD_SHOE}.slack_nails"),
    # The shoe on the foot.
    Row("to_cleft", _HEELS, f"{_HEEL}.to_cleft", "mm"),
    Row("to_white_line", _NAIL, f"{_EACH_NAIL}.to_white_line", "mm"),
    Row("to_white_line", _NAIL, f"{_EACH_HOLE}.to_white_line", "mm", asked=False),
    Row("to_white_line", _NAIL, f"{_EACH_NAIL}.hole_inset", "mm", "holes_against_white_line"),
    Row("disagreement", _NAIL, f"{_EACH_NAIL}.to_white_line", "1", "holes_against_white_line"),
    Row("wall_at_nail", _NAIL, f"{_EACH_NAIL}.wall_thickness", "mm"),
    Row("nail_width", _NAIL, f"{_EACH_NAIL}.width", "mm"),
    Row("head", _NAIL, f"{_EACH_NAIL}.head"),
    Row("clinch_length", _NAIL, f"{_EACH_NAIL}.clinch_length", "mm"),
    Row("notched", _NAIL, f"{_EACH_NAIL}.notched"),
    Row("at_clip", _NAIL, f"{_EACH_NAIL}.at_clip"),
    Row("nails_even", _QUARTERS, "observations.nails_even.{side}"),
    Row("dark_patch", _GAPS, f"{_SCORCH}.dark", None, "dark", ("yes", "no")),
    Row("trace_ratio", _FOOT, OUTLINE, "1", "outline_fit"),
    Row("deciding_disagreement", (*_GAPS, *_FOOT), OUTLINE, "1", "disagreements"),
    Row("deciding_disagreement", _NAIL, f"{OUTLINE}.nail_holes", "1", "disagreements"),
    Row("rasped_below", _FOOT, "observations.finish.rasped_below"),
    Row("went_before", _FOOT, f"{_GOING}.before"),
    *(Row(name, _FOOT, f"{_GOING}.{name}") for name in ("walk", "turn", "landing", "stands", "strikes")),
    Row("struck_before", _FOOT, f"{_GOING}.strikes_before"),
    # What is computed of the second contract's readings.
    Row("width_allowance", _FOOT, "hoof.heels", "mm", "width_allowance"),
    Row("plumb_line", _HEELS, "hoof.coronet_overhang.{side}", None, "past_coronet", ("yes",)),
    Row("width_past_coronet", _HEELS, "hoof.coronet_overhang.{side}", "mm", "past_coronet"),
    Row("length_past_bulbs", _HEELS, "hoof.bulbs", "mm", "past_bulbs"),
    Row("first_exit_ratio", _NAIL, f"{_EACH_NAIL}.wall_height", "1", "first_exit_ratios"),
    Row("nail_spread", _FOOT, NAILS, "1", "nail_spread"),
    Row("rearmost", _QUARTERS, NAILS, "1", "rearmost"),
    Row("share_low", _FOOT, NAILS, "1", "low_share"),
    Row("suspect_nail", _NAIL, f"{_EACH_NAIL}.sound", None, "suspects", ("yes",)),
    Row("wall_at_nail", _NAIL, "hoof.wall_thickness", "mm", "suspects"),
    Row("hole_outside_share", _NAIL, f"{_EACH_NAIL}.to_white_line", "1", "holes_against_white_line"),
    Row("share_inside", _FOOT, f"{_EACH_NAIL}.to_white_line", "1", "holes_against_white_line"),
    Row("dull_hold", _FOOT, f"{_SCORCH}.holds", "s", "holds"),
    Row("clinch_ratio", _NAIL, f"{_EACH_NAIL}.clinch_length", "1", "clinch_ratios"),
    Row("web_ratio", _FOOT, "shoe.web", "1", "web_ratio"),
    Row("fuller_ratio", _FOOT, "shoe.fuller_depth", "1", "fuller_ratio"),
    Row("worn_share", _FOOT, "shoe.new_thickness", "1", "worn_share"),
    Row("calk_difference", _FOOT, "shoe.calks.medial", "mm", "calk_difference"),
    Row("toe_calk_excess", _FOOT, "shoe.calks.toe", "mm", "toe_calk_excess"),
    Row("angle_difference", _FOOT, "hoof.heel_angle", "deg", "angle_difference"),
    Row("height_ratio", _FOOT, "hoof.heel_height", "1", "height_ratio"),
    Row("set_back", ("toe",), f"{_TOE}.overhang", "mm", "set_back"),
    Row("cleft_difference", _FOOT, f"{_HEEL}.to_cleft".replace("{side}", "medial"), "mm", "cleft_difference"),
    # Words of the eye in the place of numbers.
    *_EYE_ROWS,
)
"""What the second contract adds; a rulebook need not know it."""

ROWS: Final = (*_FIRST_ROWS, *_SECOND_ROWS)
"""What the contract gives as it stands, in the order in which it is read, then what is computed from it."""


class InputRow(NamedTuple):
    """A field that gives no reading of its own: ``enters`` is what it is there for, one of what is computed from it.

    ``quantity`` in which it is stated, and its unit; None for a day, arcs and what is traced.
    """

    field: str
    enters: str
    places: tuple[str, ...] = _FOOT
    quantity: str | None = None
    unit: str | None = None
    asked: bool = True


INPUT_ROWS: Final = (
    InputRow(f"{_LEVELNESS}.{{side}}_height", "height_difference", _QUARTERS, "wall_height", "mm"),
    InputRow(f"{_EACH_NAIL}.wall_height", "exit_ratio", _NAIL, "wall_height", "mm"),
    InputRow(f"{_SCORCH}.further_contact_times", "inside_temperature", _FOOT, "contact_time", "s"),
    InputRow(f"{_HISTORY}.last_shod", "days_since_shod"),
    InputRow(f"{_HISTORY}.fitted", "days_since_shod"),
    InputRow(f"{_HISTORY}.old_hole_drop", "growth_rate", _FOOT, "old_hole_drop", "mm"),
    InputRow(HEIGHTS, "flatness"),
    InputRow(ARCS, "bare_arc"),
    InputRow(OUTLINE, "width_least"),
    InputRow(f"{_LEVELNESS}.heights_u", "flatness", asked=False),
    InputRow(f"{_SCORCH}.holds", "contact_time", asked=False),
    InputRow(f"{_SCORCH}.dark", "dark_patch", asked=False),
    InputRow(_SEEN, "seen_crack", asked=False),
)
"""What the contract takes for computations alone."""

OTHER_FIELDS: Final[Mapping[str, tuple[str, ...]]] = {
    "situation": ("foot", "stage", "work", "hoof_form", "stance", "hot_fitted"),
    "record": ("horse", "person", "assessor", "visit", "follows", "external", "notes", "good_as_a_whole"),
    "place of a nail": (f"{_EACH_NAIL}.branch", f"{_EACH_NAIL}.hole", f"{_EACH_HOLE}.branch", f"{_EACH_HOLE}.hole"),
    "place of a clip": (f"{_EACH_CLIP}.at",),
    "of a book's own": (OWN,),
    "stands as before": tuple(f"observations.{part}.as_before" for part in ("heel_fit", "toe_fit", "levelness")),
}
"""Fields, each with all beneath it, that are no observation: what they are for."""

_BY_SPOT: Final[Mapping[tuple[str, str], Row]] = {
    (row.quantity, place): row
    for direct in (False, True)
    for row in reversed(ROWS)
    if (row.measure is None) is direct
    for place in row.places
}
"""The first row of each quantity and place: a field that gives it goes before one that it is computed from."""

_OF_A_COLD_SHOE: Final[Mapping[tuple[str, str], Row]] = {
    (row.quantity, place): row
    for row in reversed(ROWS)
    if row.measure is None and not row.field.startswith(_SCORCH)
    for place in row.places
}
_OF_A_HOLE: Final[Mapping[str, Row]] = {row.quantity: row for row in ROWS if row.field.startswith(_EACH_HOLE)}
_NAMED: Final = (
    {row.quantity for row in ROWS}
    | {row.quantity for row in PAIR_ROWS}
    | {row.quantity or row.enters for row in INPUT_ROWS}
)
"""Every quantity that the contract knows; any other is a book's own."""


def row_of(quantity: str, spot: str, *, cold: bool = False, nailed: bool = True) -> Row | None:
    """The row of a quantity at a place (``nail`` for any nail), the field that gives it before what computes it.

    Of a ``cold`` shoe the field that is not part of the scorch, where there is one: a cold shoe has no scorch.
    Before a shoe is ``nailed`` the field of its hole, where there is one.
    """
    if not nailed and spot == "nail" and quantity in _OF_A_HOLE:
        return _OF_A_HOLE[quantity]
    found = _BY_SPOT.get((quantity, spot))
    if found is None and quantity not in _NAMED:
        return Row(quantity, (spot,), own_path(quantity, spot))
    if cold and found is not None and found.field.startswith(_SCORCH):
        return _OF_A_COLD_SHOE.get((quantity, spot), found)
    return found


_DIRECT: Final = frozenset(row.quantity for row in ROWS if row.measure is None and row.asked)

STATED: Final[Mapping[str, str]] = {
    row.quantity: row.unit
    for row in INPUT_ROWS
    if row.quantity is not None and row.quantity not in _DIRECT and row.unit
}
"""Quantities that a field states and that only enter computations, never judged themselves, with their units."""


OF_A_CLIP: Final = frozenset(row.quantity for row in ROWS if "{clip}" in row.field)
"""Quantities that are read at each clip, and so missed only where there is one."""


def fields_of(quantity: str) -> tuple[tuple[str, str], ...]:
    """The place and the path of each field that is asked for to give ``quantity``, ``{nail}`` left open.

    Of one that is computed these are the fields that are there for its sake.
    """
    rows: Iterable[Row | InputRow]
    if quantity in _DIRECT:
        rows = (row for row in ROWS if row.quantity == quantity and row.measure is None and row.asked)
    elif quantity in STATED:
        rows = (row for row in INPUT_ROWS if row.quantity == quantity)
    else:
        rows = (row for row in INPUT_ROWS if row.enters == quantity and row.asked)
    return tuple((place, path_of(row.field, place, None)) for row in rows for place in row.places)


@cache
def observables() -> Mapping[tuple[str, str], Observable]:
    """What can be read of a foot or of a pair, for the analysis of a rulebook."""
    cold = {(row.quantity, place) for row in ROWS for place in row.places if not row.field.startswith(_SCORCH)}
    bare = {(row.quantity, place) for row in ROWS for place in row.places if row.field.startswith(_OF_A_BARE_FOOT)}
    first = {(row.quantity, place) for row in _FIRST_ROWS for place in row.places}
    of_a_foot = {
        spot: Observable(
            stated=row.measure is None,
            unit=row.unit,
            words=() if row.unit else row.words or words_at(row.field),
            where=None if spot in bare else _SHOD if spot in cold else _HOT,
            in_every_book=spot in first,
        )
        for spot, row in _BY_SPOT.items()
    }
    of_a_pair = {
        (row.quantity, place): Observable(stated=False, unit=row.unit, where=row.where)
        for row in PAIR_ROWS
        for place in row.at
    }
    return {**of_a_foot, **of_a_pair}


def observables_of(book: Rulebook) -> Mapping[tuple[str, str], Observable]:
    """What can be read by a book: :func:`observables`, and its own quantities."""
    return dict(observables()) | {
        (name, place): Observable(stated=True, unit=each.unit, words=each.vocabulary, in_every_book=False)
        for name, each in own_quantities(book).items()
        for place in each.places
    }
