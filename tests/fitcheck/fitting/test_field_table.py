"""The models of a fitting and the table of observables agree: no field without a row, no row without a field."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from types import NoneType
from typing import Annotated, Any, Literal, NamedTuple, get_args, get_origin

import pytest
from pydantic import BaseModel

from fitcheck.fitting.fit_observations import Nail
from fitcheck.fitting.input_value import InputValue, OfQuantity
from fitcheck.fitting.model_base import GapPlace
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import INPUT_ROWS, OTHER_FIELDS, ROWS, STATED, InputRow, fields_of
from fitcheck.fitting.row import Row
from rules import shipped_rulebook
from rules.situation import side_of

BOOK = shipped_rulebook()
Other = Mapping[str, tuple[str, ...]]
TABLE = "fitcheck/fitting/observables"


class Part(NamedTuple):
    """What the models have at one path: the quantity of its annotation, its words, and whether parts lie beneath it."""

    quantity: str | None
    words: frozenset[str]
    branches: bool


def parts_of(model: type[BaseModel], before: str = "") -> Iterator[tuple[str, Part]]:
    """Every path of a model, ``{nail}`` for any number in a list of models, with what stands there."""
    for name, field in model.model_fields.items():
        yield from _at(f"{before}{name}", [field.annotation, *field.metadata])


def _at(path: str, annotations: list[Any]) -> Iterator[tuple[str, Part]]:
    origins, kinds = _taken_apart(annotations)
    inner = next((kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)), None)
    quantity = next((kind.quantity_id for kind in kinds if isinstance(kind, OfQuantity)), None)
    words = {"yes", "no"} if bool in kinds else {kind for kind in kinds if isinstance(kind, str)}
    yield path, Part(quantity, frozenset(words), inner is not None or dict in origins)
    if inner is not None:
        yield from parts_of(inner, f"{path}.{{nail}}." if list in origins else f"{path}.")
    elif dict in origins:
        for key in sorted(words):
            yield f"{path}.{key}", Part(quantity, frozenset(), branches=False)


def _taken_apart(annotations: list[Any]) -> tuple[set[Any], list[Any]]:
    """The origins of all types within, and the types, marks and words themselves."""
    origins, kinds, todo = set[Any](), list[Any](), list(annotations)
    while todo:
        here = todo.pop(0)
        if get_args(here):
            origins.add(get_origin(here))
            todo += get_args(here)
        elif here is not NoneType:
            kinds.append(here)
    return origins, kinds


def paths_of(row: Row | InputRow) -> list[str]:
    lists = dict.fromkeys(("nail", "hole", "clip"), "{nail}")
    paths = (row.field.format(side=side_of(place), place=place, **lists) for place in row.places)
    return list(dict.fromkeys(paths))


def faults_of(
    model: type[BaseModel], rows: tuple[Row, ...], input_rows: tuple[InputRow, ...], other: Other
) -> Iterator[str]:
    """Where models, table and shipped rulebook differ, and what to write."""
    parts = dict(parts_of(model))
    stated: list[Row | InputRow] = [*(row for row in rows if row.measure is None), *input_rows]
    named = [path for row in stated for path in paths_of(row)]
    named += [re.sub(r"\{(hole|clip)\}", "{nail}", path) for paths in other.values() for path in paths]
    yield from (f"{path} stands twice in {TABLE}: take one out" for path in set(named) if named.count(path) > 1)
    yield from _without_a_row(parts, set(named))
    for path in [*named, *(path for row in rows if row.measure for path in paths_of(row))]:
        if path not in parts:
            yield f"{path} of {TABLE} is no field: add it to the models in fitcheck/fitting, or take its row out"
    for row in stated:
        for path in paths_of(row):
            if path in parts:
                yield from _differences(path, parts[path], row)
    computed = {row.quantity for row in rows if row.measure is not None}
    for each in input_rows:
        if each.enters not in computed:
            yield f'{each.field} enters "{each.enters}", which nothing computes: name a quantity that a measure gives'


def _without_a_row(parts: Mapping[str, Part], named: set[str]) -> Iterator[str]:
    for path, part in parts.items():
        above = {path[:end] for end in range(len(path)) if path[end] == "."}
        if not part.branches and not {path, *above} & named:
            unit = ", UNIT" if part.quantity else ""
            row = f'Row("{part.quantity or path.rpartition(".")[2]}", PLACES, "{path}"{unit})'
            yield f"{path} has no row: write {row} in ROWS of {TABLE}, or list it in INPUT_ROWS or OTHER_FIELDS"


def _differences(path: str, part: Part, row: Row | InputRow) -> Iterator[str]:
    is_number = row.unit is not None
    expected = row.quantity if is_number else None
    if part.quantity != expected:
        write = f'Annotated[InputValue, OfQuantity("{expected}")]' if is_number else f'"{part.quantity}" and its unit'
        where = "its annotation" if is_number else f"its row in {TABLE}"
        yield f"{path}: the model says {part.quantity}, the row {expected}: write {write} in {where}"
    if row.quantity is None:
        return
    quantity = BOOK.quantities[row.quantity]
    if quantity.unit != row.unit:
        yield f"{path}: {row.quantity} is in {quantity.unit}: write that for {row.unit} in its row in {TABLE}"
    vocabulary = set(quantity.vocabulary)
    # Another field may leave a word to the one that is asked for, as a list of clips does with none.
    if not is_number and part.words != vocabulary and (row.asked or not part.words < vocabulary):
        yield f"{path}: takes {sorted(part.words)}, the rulebook has {sorted(quantity.vocabulary)}: write those"


def test_models_table_and_rulebook_agree() -> None:
    assert list(faults_of(Fitting, ROWS, INPUT_ROWS, OTHER_FIELDS)) == []


class Toe(BaseModel):
    overhang: Annotated[InputValue, OfQuantity("overhang")] | None = None
    clip: Literal["none", "seated", "proud", "too_deep"] | None = None
    gaps: dict[GapPlace, Annotated[InputValue, OfQuantity("gap")] | None] | None = None


class Foot(BaseModel):
    toe: Toe
    nails: list[Nail] | None = None
    rocks: bool | None = None
    notes: str | None = None


OVERHANG, CLIP = Row("overhang", ("toe",), "toe.overhang", "mm"), Row("clip", ("toe",), "toe.clip")
GAPS = Row("gap", ("toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel"), "toe.gaps.{place}", "mm")
KEYS = {"wall_at_nail": "wall_thickness", "nail_width": "width"}
NAILS = tuple(
    Row(name, ("nail",), f"nails.{{nail}}.{KEYS.get(name, name)}", unit)
    for name, unit in (
        ("exit_height", "mm"),
        ("position", "1"),
        ("hole_inset", "mm"),
        ("sound", None),
        ("reaction", None),
        ("blood", None),
        ("clinch", None),
        ("to_white_line", "mm"),
        ("wall_at_nail", "mm"),
        ("nail_width", "mm"),
        ("head", None),
        ("clinch_length", "mm"),
        ("notched", None),
        ("at_clip", None),
    )
)
ROCKS = Row("rocks", ("foot",), "rocks")
COUNT = Row("exit_ratio", ("nail",), "nails.{nail}.wall_height", "1", "exit_ratios")
GOOD = (OVERHANG, CLIP, GAPS, *NAILS, ROCKS, COUNT)
INPUTS = (InputRow("nails.{nail}.wall_height", "exit_ratio", ("nail",), "wall_height", "mm"),)
REST = {"record": ("notes",), "place of a nail": ("nails.{nail}.branch", "nails.{nail}.hole")}


def without(row: Row, *instead: Row) -> tuple[Row, ...]:
    return (*(each for each in GOOD if each is not row), *instead)


@pytest.mark.parametrize(
    ("rows", "inputs", "rest", "fault"),
    [
        (
            without(OVERHANG),
            INPUTS,
            REST,
            'toe.overhang has no row: write Row("overhang", PLACES, "toe.overhang", UNIT) in ROWS',
        ),
        (without(ROCKS), INPUTS, REST, 'rocks has no row: write Row("rocks", PLACES, "rocks") in ROWS'),
        (without(GAPS, GAPS._replace(places=GAPS.places[1:])), INPUTS, REST, "toe.gaps.toe has no row"),
        (without(NAILS[6]), INPUTS, REST, "nails.{nail}.clinch has no row"),
        (GOOD, INPUTS, REST | {"record": ()}, "notes has no row"),
        ((*GOOD, Row("hand", ("foot",), "hand")), INPUTS, REST, "hand of fitcheck/fitting/observables is no field"),
        (GOOD, INPUTS, REST | {"situation": ("stage",)}, "stage of fitcheck/fitting/observables is no field"),
        (without(COUNT, COUNT._replace(field="nails.{nail}.wall")), INPUTS, REST, "nails.{nail}.wall of"),
        ((*GOOD, OVERHANG), INPUTS, REST, "toe.overhang stands twice"),
        (
            without(OVERHANG, OVERHANG._replace(quantity="clip_height")),
            INPUTS,
            REST,
            'the model says overhang, the row clip_height: write Annotated[InputValue, OfQuantity("clip_height")]',
        ),
        (without(OVERHANG, OVERHANG._replace(unit="cm")), INPUTS, REST, "overhang is in mm: write that for cm"),
        (without(OVERHANG, OVERHANG._replace(unit=None)), INPUTS, REST, 'write "overhang" and its unit in its row'),
        (without(CLIP, CLIP._replace(unit="mm")), INPUTS, REST, "toe.clip: the model says None, the row clip"),
        (without(CLIP, CLIP._replace(quantity="sound")), INPUTS, REST, "toe.clip: takes ['none', 'proud', 'seated'"),
        (GOOD, (INPUTS[0]._replace(quantity="wall_angle"),), REST, "wall_angle is in deg: write that for mm"),
        (GOOD, (INPUTS[0]._replace(enters="evenness"),), REST, 'enters "evenness", which nothing computes'),
    ],
)
def test_what_does_not_agree_is_named_with_what_to_write(
    rows: tuple[Row, ...], inputs: tuple[InputRow, ...], rest: Other, fault: str
) -> None:
    assert list(faults_of(Foot, GOOD, INPUTS, REST)) == []
    assert any(fault in found for found in faults_of(Foot, rows, inputs, rest))


def test_what_is_stated_but_only_computed_from_has_the_rulebooks_unit() -> None:
    assert STATED == {"old_hole_drop": "mm"}
    assert not set(STATED) & {row.quantity for row in ROWS}


def test_the_fields_of_a_quantity_are_those_that_give_it_or_are_there_for_its_sake() -> None:
    assert fields_of("length") == (
        ("medial_heel", "observations.heel_fit.medial.length"),
        ("lateral_heel", "observations.heel_fit.lateral.length"),
    )
    assert fields_of("clinch") == (("nail", "observations.nails.{nail}.clinch"),)
    assert fields_of("wall_height") == (("foot", "hoof.wall_height"),)
    assert fields_of("height_difference") == (
        ("medial_quarter", "observations.levelness.medial_height"),
        ("lateral_quarter", "observations.levelness.lateral_height"),
    )
    assert fields_of("old_hole_drop") == fields_of("growth_rate")
    assert fields_of("time_left") == ()
