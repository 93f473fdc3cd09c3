"""What of a fitting stands in the one that follows it: fields of JSON documents, with the assessment they come from.

One look at a foot follows another: dressed, tried, tried again, nailed, finished.  What the later one leaves out stands
as it was observed at the earlier one, as far as the foot cannot have changed in it since:

- always: work, form and stance, hoof and shoe;
- from dressed on: the dressing, and what was seen on the foot;
- from the trial on: whether the shoe was hot, imprint, holds, and holes against the white line;
- from nailed on: exits, sound, reaction, blood and position of each nail;
- where the later one says ``as_before``: how the shoe lies at heels and toe, and how level.

At another visit the foot has grown and has another shoe: only work, form and stance stand.  Fields that say one thing
between them, such as the holds and the contact time, stand together or not at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import Field

from rules.model.records import STAGES

__all__ = ["OF_A_NAIL", "SOLE_PRESSURE", "Carried", "carried_from", "completed"]

Document = Mapping[str, Any]


@dataclass(slots=True)
class Carried:
    """One field of a fitting that stands as it was observed at an assessment before."""

    field: Annotated[str, Field(description="Its path in the fitting, as if it had been sent.")]
    value: Annotated[Any, Field(description="What was observed there.")]
    assessment: Annotated[
        str,
        Field(description="The id of the assessment for which it was observed.", json_schema_extra={"format": "uuid"}),
    ]
    place: Annotated[
        str | None,
        Field(description="Of what belongs to a nail: which one.", exclude_if=lambda place: place is None),
    ] = None


_STANCES: Final = ("base_wide", "base_narrow")
_OBSERVED: Final = "observations"
_NAILS: Final = "nails"
_AS_BEFORE: Final = "as_before"
_HOOF: Final = (("wall_angle", "toe_angle"),)
_SHOE: Final = (("refit", "new_thickness"),)
_HOT: Final = (("arcs", "coverage", "dark"), ("holds", "contact_time", "further_contact_times", "shoe_heat"))
SOLE_PRESSURE: Final = "sole_pressure"
"""Of scorch and of levelness: it is felt for anew once the shoe is nailed."""
_FIT: Final[Mapping[str, tuple[tuple[str, ...], ...]]] = {
    "heel_fit": (("width", "width_least"),),
    "toe_fit": (
        ("medial_overhang", "medial_overhang_least"),
        ("lateral_overhang", "lateral_overhang_least"),
        ("clip", "clip_height", "clips"),
    ),
    "levelness": (("heights", "heights_u"), ("medial_height", "lateral_height")),
}
"""The parts that stand ``as_before``, with the keys in them that say one thing between them."""
_OF_A_HOLE: Final = ("hole_inset", "to_white_line", "wall_height", "wall_thickness")
_DRIVEN: Final = ("exit_height", "sound", "reaction", "blood")
OF_A_NAIL: Final = (*_DRIVEN, "position")
"""What stands of a nail, from nailed on."""


def carried_from(
    sent: object, before: Document, assessment: str, origins: Sequence[Carried] = ()
) -> tuple[Carried, ...]:
    """What of ``before``, a whole fitting, stands in ``sent``, the document of the one that follows it.

    ``assessment`` is the id of the assessment of ``before``, and ``origins`` what was carried into that one: it comes
    from where it came from then.  Of a document that is no fitting nothing is said.
    """
    if not isinstance(sent, Mapping) or sent.get("stage") not in STAGES:
        return ()
    known = {(each.field, each.place): each.assessment for each in origins}
    return tuple(
        Carried(field, value, known.get((_field_before(field, place, before), place), assessment), place)
        for field, value, place in _standing(sent, before)
    )


def completed(sent: Any, carried: Sequence[Carried]) -> Any:
    """The document ``sent`` with what was ``carried`` into it; ``sent`` stays as it is."""
    if not carried:
        return sent
    whole = deepcopy(sent)
    for each in carried:
        *path, key = each.field.split(".")
        here = _object(whole, path) if each.place is None else _nail(whole, each.place)
        if here is not None:
            here[key] = each.value
    return whole


_Standing = Iterator[tuple[str, Any, str | None]]
"""Path, value and, of a nail, place."""


def _standing(sent: Document, before: Document) -> _Standing:
    yield from _form(sent, before)
    if _differ(sent.get("visit"), before.get("visit")):
        return
    yield from _left_out(sent, before, "hoof", _HOOF)
    yield from _left_out(sent, before, "shoe", _SHOE)
    dressing = f"{_OBSERVED}.dressing"
    yield from _left_out(sent, before, dressing)
    yield from _whole(sent, before, f"{_OBSERVED}.seen")
    since = min(STAGES.index(sent["stage"]), STAGES.index(before["stage"]))
    if since >= STAGES.index("hot_fit"):
        yield from _imprint(sent, before)
        yield from _fit(sent, before)
    yield from _nails(sent, before)
    if since >= STAGES.index("nailed"):
        yield from _left_out(sent, before, f"{_OBSERVED}.nails_even")


def _differ(here: object, there: object) -> bool:
    return here is not None and there is not None and here != there


def _form(sent: Document, before: Document) -> _Standing:
    """Work, form and stance; a form that is a stance stands for both."""
    yield from _whole(sent, before, "work")
    form, there = sent.get("hoof_form"), before.get("hoof_form")
    if form is None and there is not None and (there not in _STANCES or sent.get("stance") is None):
        yield "hoof_form", there, None
    if form not in _STANCES:
        yield from _whole(sent, before, "stance")


def _imprint(sent: Document, before: Document) -> _Standing:
    scorch = f"{_OBSERVED}.scorch"
    hot, was_hot = sent.get("hot_fitted"), before.get("hot_fitted")
    if hot is None and was_hot is not None and (was_hot or _at(sent, scorch) is None):
        yield "hot_fitted", was_hot, None
    if hot is not False:
        for field, value, place in _left_out(sent, before, scorch, _HOT):
            if not field.endswith(SOLE_PRESSURE):
                yield field, value, place


def _fit(sent: Document, before: Document) -> _Standing:
    """What is said to stand as before; a trace tells of heels and toe, and stands with both."""
    said = [name for name in _FIT if _at(sent, f"{_OBSERVED}.{name}.{_AS_BEFORE}") is True]
    for name in said:
        yield from _left_out(sent, before, f"{_OBSERVED}.{name}", _FIT[name])
    tried, hot = (f"{_OBSERVED}.{name}.{SOLE_PRESSURE}" for name in ("levelness", "scorch"))
    felt = _at(before, hot)
    elsewhere = ((before, tried), (sent, tried), (sent, hot))
    if "levelness" in said and felt is not None and all(_at(*each) is None for each in elsewhere):
        yield tried, felt, None
    if {"heel_fit", "toe_fit"} <= set(said):
        yield from _whole(sent, before, f"{_OBSERVED}.outline")


def _nails(sent: Document, before: Document) -> _Standing:
    """Each nail and each hole that is named again; all of them where none is named and none can have changed."""
    there = {_place(nail): nail for nail in _list(before, _NAILS)}
    here = _list(sent, _NAILS)
    stages = before["stage"], sent["stage"]
    driven = stages[0] in {"nailed", "finished"}
    if not here and (driven or stages[1] == "hot_fit") and not _has(sent, _NAILS):
        here = [{"branch": nail["branch"], "hole": nail["hole"]} for nail in there.values()]
    for number, nail in enumerate(here):
        if not isinstance(nail, Mapping):
            continue
        place = _place(nail)
        keys = _OF_A_HOLE + (OF_A_NAIL if driven else ())
        if stages == ("nailed", "nailed") and any(nail.get(key) is not None for key in _DRIVEN):
            # It may have been drawn and driven anew: what was heard and felt of it then says nothing of it now.
            keys = tuple(key for key in keys if key not in _DRIVEN)
        for key in keys:
            value = there.get(place, {}).get(key)
            if nail.get(key) is None and value is not None:
                yield f"{_OBSERVED}.{_NAILS}.{number}.{key}", value, place


def _left_out(sent: Document, before: Document, path: str, together: Sequence[tuple[str, ...]] = ()) -> _Standing:
    """What stands under ``path``, key by key; of the keys of one of ``together`` all that there were, or none."""
    there, here = _at(before, path), _at(sent, path)
    if not isinstance(there, Mapping) or not isinstance(here, Mapping | None):
        return
    here = here or {}
    for key, value in there.items():
        group = next((keys for keys in together if key in keys), (key,))
        if key == _AS_BEFORE or value is None:
            continue
        if isinstance(value, Mapping) and "value" not in value and group == (key,):
            yield from _left_out(sent, before, f"{path}.{key}", together)
        elif all(here.get(each) is None for each in group):
            yield f"{path}.{key}", value, None


def _whole(sent: Document, before: Document, path: str) -> _Standing:
    value = _at(before, path)
    if value is not None and _at(sent, path) is None:
        yield path, value, None


def _at(document: Any, path: str) -> Any:
    here = document
    for step in path.split("."):
        here = here.get(step) if isinstance(here, Mapping) else None
    return here


def _list(document: Document, name: str) -> list[Any]:
    found = _at(document, f"{_OBSERVED}.{name}")
    return found if isinstance(found, list) else []


def _has(document: Document, name: str) -> bool:
    """Whether something of that name was observed, if only that there is none."""
    observed = document.get(_OBSERVED)
    return not isinstance(observed, Mapping | None) or name in (observed or {})


def _place(nail: Any) -> str:
    return f"nail:{nail.get('branch')}:{nail.get('hole')}"


def _object(document: dict[str, Any], path: Sequence[str]) -> dict[str, Any] | None:
    """The object at that path, made where nothing is; None where something else is, which is a fault of its own."""
    here: Any = document
    for step in path:
        if here.get(step) is None:
            here[step] = {}
        here = here[step]
        if not isinstance(here, dict):
            return None
    found: dict[str, Any] = here
    return found


def _nail(document: dict[str, Any], place: str) -> dict[str, Any] | None:
    """The nail of that place, put at the end of the list where it is not in it."""
    observed = _object(document, [_OBSERVED])
    if observed is None:
        return None
    nails: list[dict[str, Any]] = observed.setdefault(_NAILS, [])
    for nail in nails:
        if isinstance(nail, dict) and _place(nail) == place:
            return nail
    _, branch, hole = place.split(":")
    nails.append({"branch": branch, "hole": int(hole)})
    return nails[-1]


def _field_before(field: str, place: str | None, before: Document) -> str:
    """The path that a field has in ``before``, where nails may have stood in another order."""
    if place is None:
        return field
    number = next(number for number, nail in enumerate(_list(before, _NAILS)) if _place(nail) == place)
    return f"{_OBSERVED}.{_NAILS}.{number}.{field.rpartition('.')[2]}"
