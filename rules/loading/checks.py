"""What must hold across the records of a rulebook; each fault names file and key."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final

from rules.limits import KNOWN_PREFIX
from rules.loading.record_checks import check_sourced, check_text, check_unit, fail, file_of, known
from rules.loading.rule_checks import JOINED_PLACEHOLDERS, SINGLE_PLACEHOLDERS, check_joined_rules, check_single_rules
from rules.model.figures import Parameter
from rules.model.records import Clause, Need, Quantity, Scaled, Stage
from rules.rulebook import Rulebook
from rules.situation import VOCABULARY

__all__ = ["JOINED_PLACEHOLDERS", "SINGLE_PLACEHOLDERS", "check", "check_pairs", "check_parameters"]

_LEVELS: Final = ("simple", "guarded")
_EVEN_CHANCE: Final = 0.5
_PLACES: Final = ("nail", "foot")
_KEPT: Final = "kept.toml"
_STEPS: Final = ("draw_nails", "after_stop")
_METHODS: Final = ("rule", "calliper", "feeler", "eye")
_RULE_NAME: Final = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_FIELD_NAME: Final = re.compile(r"[a-z][a-z0-9_]*")
_FRAME: Final = frozenset({"id", "sid", "kind", "place", "spot", "rule", *VOCABULARY})
"""Fields that every fact has of itself, so no quantity may bear their names."""


def check(book: Rulebook) -> None:
    """Check the records against one another.

    Raises RulebookError for the first fault found.
    """
    _check_levels(book)
    _check_required(book)
    _check_places(book)
    _check_names(book)
    for name, quantity in book.quantities.items():
        _check_quantity(book, name, quantity)
    _check_uncertainties(book)
    _check_eye_words(book)
    check_parameters(book)
    for criterion_id, criterion in book.criteria.items():
        for number, need in enumerate(criterion.needs):
            _check_need(book, f"{criterion_id}.toml", f"criterion.needs.{number}", need)
    check_single_rules(book)
    check_joined_rules(book)
    check_pairs(book)


def _check_levels(book: Rulebook) -> None:
    _exactly("book.toml", "levels", book.levels, _LEVELS)
    for name, level in book.levels.items():
        check_sourced(book, "book.toml", f"levels.{name}", level)
    if book.levels["simple"].probability != _EVEN_CHANCE:
        fail(
            "book.toml",
            "levels.simple.probability",
            "a simple limit takes the reading at its face, which is an even chance",
            f"Write {_EVEN_CHANCE}, or make rules guarded",
        )
    if book.levels["guarded"].probability >= _EVEN_CHANCE:
        fail(
            "book.toml",
            "levels.guarded.probability",
            "a guarded limit fires before an even chance",
            f"Write less than {_EVEN_CHANCE}",
        )


def _exactly(file: str, table: str, present: Iterable[str], expected: Collection[str]) -> None:
    """A table holds just the expected records: others would have no effect."""
    names = list(present)
    _at_least(file, table, names, expected)
    for name in names:
        known(file, f"{table}.{name}", f"name in {table}", name, expected)


def _at_least(file: str, table: str, present: Iterable[str], expected: Iterable[str]) -> None:
    names = list(present)
    for name in expected:
        if name not in names:
            fail(file, f"{table}.{name}", "this table is missing", f"Add [{table}.{name}]")


def _check_required(book: Rulebook) -> None:
    required: list[tuple[str, Stage, tuple[str, ...]]] = [
        ("finished_when_hot_fitted", "finished", book.required_when_hot_fitted),
        *((stage, stage, criteria) for stage, criteria in book.required.items()),
    ]
    for key, stage, criteria in required:
        for criterion in criteria:
            known("book.toml", f"required.{key}", "criterion", criterion, book.criteria)
            if stage not in book.criteria[criterion].stages:
                fail(
                    "book.toml",
                    f"required.{key}",
                    f"{criterion!r} cannot be observed at the stage {stage}, so no foot could ever be released",
                    f"Take it out, or add {stage} to the stages in {criterion}.toml",
                )


def _check_places(book: Rulebook) -> None:
    _at_least("book.toml", "places", book.places, _PLACES)
    _at_least("book.toml", "steps", book.steps, _STEPS)
    for name, place in book.places.items():
        placeholders = ("side", "hole") if name == "nail" else ()
        check_text("book.toml", f"places.{name}.title", place.title, placeholders)


def _check_names(book: Rulebook) -> None:
    for rule_id in (*book.rules, *book.joined):
        if _RULE_NAME.fullmatch(rule_id) is None:
            key = f"{'joined' if rule_id in book.joined else 'rules'}.{rule_id}"
            fail(book.files[rule_id], key, "a rule's name is not plain", "Write small letters and digits with hyphens")
    for name in book.places:
        if _FIELD_NAME.fullmatch(name) is None:
            fail("book.toml", f"places.{name}", "a place's name is not plain", "Write small letters with underscores")
    for name in book.quantities:
        key, file = f"quantities.{name}", file_of(book, name)
        if _FIELD_NAME.fullmatch(name) is None:
            fail(file, key, "a quantity's name is not plain", "Write small letters and digits with underscores")
        if name in _FRAME or name.startswith(KNOWN_PREFIX):
            fail(file, key, "this name is taken: facts use it for something else", "Choose another name")
        for other in _whose_field(name):
            if other in book.quantities:
                fail(file, key, f"this name is taken: it is how facts call a bound of {other}", "Choose another name")


def _whose_field(name: str) -> Iterator[str]:
    """The quantities that would call a field ``name``: for a bound of theirs, or less a multiple of a dimension."""
    for bound in ("_low", "_high"):
        if name.endswith(bound):
            yield name.removesuffix(bound)
    parts = name.split("_less_")
    for number in range(1, len(parts)):
        yield "_less_".join(parts[:number])


def _check_quantity(book: Rulebook, name: str, quantity: Quantity) -> None:
    file = file_of(book, name)
    for place in quantity.places:
        known(file, f"quantities.{name}.places", "place", place, book.places)
    for key, others in (("computed_from", quantity.computed_from), ("instead_of", (quantity.instead_of or name,))):
        for other in others:
            known(file, f"quantities.{name}.{key}", "quantity", other, book.quantities)
    if quantity.by_limit_of is not None:
        known(file, f"quantities.{name}.by_limit_of", "rule", quantity.by_limit_of, book.rules)
    if file == _KEPT and quantity.judged is not False:
        fail(file, f"quantities.{name}.judged", "what is kept here belongs to no criterion", "Write judged = false")
    if name not in book.criterion_of and quantity.kind != "number" and file != _KEPT:
        fail(file, f"quantities.{name}.kind", "a dimension is a number", 'Write kind = "number"')


def _check_uncertainties(book: Rulebook) -> None:
    _exactly("readings.toml", "methods", book.methods, _METHODS)
    for table, records in (("methods", book.methods), ("instruments", book.instruments)):
        for name, record in records.items():
            check_sourced(book, "readings.toml", f"{table}.{name}", record)
            expected = "mm" if table == "methods" else name
            if record.unit != expected:
                fail(
                    "readings.toml",
                    f"{table}.{name}.unit",
                    f"unit {record.unit!r} is not what this is read in",
                    f"Write {expected!r}",
                )


def _check_eye_words(book: Rulebook) -> None:
    for quantity_id, words in book.eye_words.items():
        known("eye_words.toml", quantity_id, "quantity", quantity_id, book.quantities)
        quantity = book.quantities[quantity_id]
        for word, meaning in words.items():
            key = f"{quantity_id}.{word}"
            check_sourced(book, "eye_words.toml", key, meaning)
            check_unit("eye_words.toml", f"{key}.unit", meaning.unit, quantity)
            if quantity.range is not None and not quantity.range[0] <= meaning.value <= quantity.range[1]:
                fail("eye_words.toml", f"{key}.value", "outside what is possible", "Keep within the quantity's range")


def _check_need(book: Rulebook, file: str, key: str, need: Need) -> None:
    for quantity_id in need.any_of:
        known(file, f"{key}.any_of", "quantity", quantity_id, book.quantities)
        expected = need.at
        if isinstance(expected, str):
            expected = ("nail",) if expected in {"every_nail", "each_branch"} else ()
        quantity = book.quantities[quantity_id]
        for place in expected:
            known(file, f"{key}.at", f"place of {quantity_id}", place, quantity.places)
        if not any(map(quantity.judged_at, expected or quantity.places)):
            problem = f"the book says that it does not judge {quantity_id}, so nothing would come of it"
            fail(file, f"{key}.any_of", problem, f"Take it out, or change judged of {quantity_id}")


def check_pairs(book: Rulebook) -> None:
    """A pair is never asked of one foot, and its rules look at nothing that belongs to one foot.

    Raises RulebookError for the first fault found.
    """
    pairs = {name for name, criterion in book.criteria.items() if criterion.of == "pair"}
    for stage, required in (*book.required.items(), ("finished_when_hot_fitted", book.required_when_hot_fitted)):
        for criterion in required:
            if criterion in pairs:
                problem = f"{criterion!r} is judged of two feet, so no foot alone could ever be released"
                fail("book.toml", f"required.{stage}", problem, "Take it out")
    for rule_id, rule in book.rules.items():
        if book.criterion_for(rule_id) not in pairs:
            continue
        to = rule.amount.to if rule.amount else None
        for key, limit in (("low", rule.low), ("high", rule.high), ("amount.to", to)):
            if isinstance(limit, Scaled):
                problem = f"{limit.of} is a size of one foot, and this is judged of two"
                fail(book.files[rule_id], f"rules.{rule_id}.{key}.of", problem, "Write a plain number")
    for rule_id in book.joined:
        _check_joined(book, rule_id, pairs)


def _check_joined(book: Rulebook, rule_id: str, pairs: set[str]) -> None:
    joined = book.joined[rule_id]
    of_pair = joined.criterion in pairs
    for number, clause in enumerate(joined.when):
        for name in _looked_at(clause):
            criterion = book.criterion_for(name) if clause.findings is not None else book.criterion_of.get(name)
            if (criterion in pairs) != of_pair:
                fail(
                    book.files[rule_id],
                    f"joined.{rule_id}.when.{number}",
                    f"{name!r} and the rule's criterion are not both of one foot, or both of two",
                    "Join what is judged of one foot, or what is judged of a pair",
                )
    if of_pair and joined.place == "foot":
        fail(
            book.files[rule_id],
            f"joined.{rule_id}.place",
            "what is judged of two feet is not found at one of them",
            'Write place = "of_first"',
        )


def _looked_at(clause: Clause) -> tuple[str, ...]:
    return clause.findings or (clause.reading or "",)


_FILE: Final = "parameters.toml"
_VALUES: Final = {"trace": "mm", "stretch": "mm", "apart": "mm", "press": "mm", "growth": "mm/month"}
"""Parameters that must have a value, with their units."""

_RANGES: Final = {
    "place_toe": "deg",
    "place_quarter": "deg",
    "place_heel": "deg",
    "heat_black": "degC",
    "heat_dull_red": "degC",
    "heat_cherry": "degC",
    "heat_bright": "degC",
    "wall_angle": "deg",
    "nail_bow": "mm",
    "growth": "mm/month",
}
"""Parameters that must have a range, with their units."""

_TOGETHER: Final[tuple[dict[str, str], ...]] = (
    {"height_spot": "mm", "flat_chance": "1", "flatness_unsure": "mm"},
    {"turned_in_heels": "mm", "past_thickness": "mm"},
    {
        "trace_wander": "mm",
        "trace_wander_length": "mm",
        "trace_frame": "mm",
        "trace_scale": "1",
        "trace_shaking": "mm",
        "photograph_tap": "mm",
        "photograph_taps_apart": "mm",
        "photograph_scale": "1",
        "photograph_tilt": "1",
        "buttress_earliest": "deg",
    },
)
"""Values that a book gives together or not at all, with their units; without them the first contract's sums stand."""

_REMARKS: Final[dict[str, tuple[str, ...]]] = {
    "nail_path": (),
    "growth_assumed": (),
    "due_interval": ("date", "days", "place"),
    "due_heel_support": ("date", "days", "place"),
    "due_today": ("date", "days", "place"),
}
"""The remarks, with the placeholders that each may have."""

_PERFECT_CONTACT: Final = {"horn_diffusivity": "m2/s", "horn_temperature": "degC"}
"""Ranges of a book that takes the contact of hot iron as perfect, and looks no further than its end."""

_COURSE: Final = {
    "horn_conductivity": "W/(m K)",
    "course_diffusivity": "m2/s",
    "surface_conductance": "W/(m2 K)",
    "tissue_conductivity": "W/(m K)",
    "tissue_heat_capacity": "J/(m3 K)",
    "perfusion": "1/s",
    "living_temperature": "degC",
    "dead_temperature": "degC",
    "iron_thickness": "mm",
    "iron_heat_capacity": "J/(m3 K)",
    "iron_loss": "W/(m2 K)",
    "hold_pause": "s",
}
"""Values or ranges of a book that follows the heat over its whole course."""

_BY_CHANCE: Final = {
    "trace_common": "1",
    "growth_slip": "mm/month",
    "interval_doubt": "d",
    "quarter_position": "1",
    "sole_inner_face": "mm",
    "fewest_for_share": "1",
}
"""Values of a book that judges by chance."""

_WALLS: Final = {"wall_thinning_fore": "1", "wall_thinning_hind": "1", "hole_step": "1"}
"""Ranges of such a book: the wall at the quarters over that at the toe, and how far apart holes stand."""

_HEATS: Final[tuple[tuple[dict[str, str], dict[str, tuple[str, ...]]], ...]] = (
    (_PERFECT_CONTACT, {"heat": (), "heat_adds_up": ()}),
    (_COURSE, {"heat_course": ()}),
)
"""The two ways in which a book may have heat computed: parameters with their units, and remarks."""

_REMARKS_WITH: Final = {
    "trace_wander": ("no_buttress", "hidden_border", "trace_smoothed"),
    "height_spot": ("heights_unsure",),
}
"""Remarks that a book has, without placeholders, where it has a parameter, and no other book."""

_MAY_BE_NEGATIVE: Final = frozenset({"degC"})


def check_parameters(book: Rulebook) -> None:
    """Each parameter and remark that the computations use is there, usable, and no other.

    Raises RulebookError.
    """
    units, remarks = _demanded(book)
    for name in units:
        if name not in book.parameters:
            fail(_FILE, f"parameters.{name}", "this table is missing", f"Add [parameters.{name}]")
    for name, parameter in book.parameters.items():
        _check_one(book, name, parameter, units)
    for name, placeholders in remarks.items():
        if name not in book.remarks:
            fail(_FILE, f"remarks.{name}", "this table is missing", f"Add [remarks.{name}]")
        check_text(_FILE, f"remarks.{name}.text", book.remarks[name].text, placeholders)
    for name in book.remarks:
        if name not in remarks:
            fail(_FILE, f"remarks.{name}", "nothing makes this remark", f"Known: {', '.join(sorted(remarks))}")


def _demanded(book: Rulebook) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
    """The units of the parameters that ``book`` must have, and the placeholders of its remarks."""
    either, remarks = _HEATS[any(name in book.parameters for name in _COURSE)]
    units, remarks = _VALUES | _RANGES | either, _REMARKS | remarks
    if book.judges.by_chance:
        units, remarks = units | _BY_CHANCE | _WALLS, remarks | {"interval_doubted": ()}
    for group in _TOGETHER:
        if not book.parameters.keys().isdisjoint(group):
            units |= group
    for parameter_id, names in _REMARKS_WITH.items():
        if parameter_id in book.parameters:
            remarks |= dict.fromkeys(names, ())
    return units, remarks


def _check_one(book: Rulebook, name: str, parameter: Parameter, units: Mapping[str, str]) -> None:
    key = f"parameters.{name}"
    unit = units.get(name)
    if unit is None:
        known = ", ".join(sorted(units))
        fail(_FILE, key, "nothing reckons with this parameter", f"Known: {known}")
    check_sourced(book, _FILE, key, parameter)
    if parameter.unit != unit:
        fail(_FILE, f"{key}.unit", f"unit {parameter.unit!r} is not what is reckoned in", f"Write {unit!r}")
    if any(name in group for group in (_VALUES, _BY_CHANCE, *_TOGETHER)) and parameter.value is None:
        fail(_FILE, f"{key}.value", "this key is missing", "Give the value")
    if name in _RANGES | _PERFECT_CONTACT | _WALLS and parameter.low is None:
        fail(_FILE, f"{key}.low", "this key is missing", "Give low and high")
    figures = [figure for figure in (parameter.low, parameter.value, parameter.high) if figure is not None]
    if figures != sorted(figures):
        fail(_FILE, f"{key}.value", "it lies outside low to high", "Correct one of the three")
    if figures[0] < 0 and unit not in _MAY_BE_NEGATIVE:
        fail(_FILE, key, "a figure below nought makes no sense here", "Write 0 or more")
