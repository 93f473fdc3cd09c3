"""What the parser and the models refuse, in the words of a rulebook's author: file, key, what to write."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, Final, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from rules.errors import WRONG_TYPE, RulebookError
from rules.lazy import lazily

if TYPE_CHECKING:
    from difflib import get_close_matches
else:
    get_close_matches = lazily("difflib", "get_close_matches")

__all__ = ["not_a_record", "not_toml"]

_LINE: Final = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_TWICE: Final = ("Cannot overwrite", "Cannot declare")

_FAULTS: Final[Mapping[str, tuple[str, str]]] = {
    "finite_number": ("nan and inf cannot be compared with a reading", "Write a finite number"),
    "string_too_short": ("the text is empty", "Write it out"),
    "string_too_long": ("the text is too long", "Keep to {max_length} characters"),
    "too_short": ("too little is listed", "Give {min_length} at least"),
    "too_long": ("too much is listed", "Give {max_length} at most"),
    "dict_type": ("not a table", "Write a table: a key and a value for each line"),
    "model_type": ("not a table", "Write a table: a key and a value for each line"),
    "greater_than": ("the number is too small", "Write a number above {gt:g}"),
    "greater_than_equal": ("the number is too small", "Write {ge:g} or more"),
    "less_than": ("the number is too large", "Write a number below {lt:g}"),
    "less_than_equal": ("the number is too large", "Write {le:g} or less"),
}


def not_toml(file: str, error: ValueError) -> RulebookError:
    """The error for a file that does not parse; a key that stands twice is one kind."""
    message = str(error)
    place = _LINE.search(message)
    key = f"line {place[1]}" if place and place[1] else "(text)"
    what = _LINE.sub("", message)
    if what.startswith(_TWICE):
        return RulebookError(
            file, key, f"a key or table stands twice ({what})", "Give each key once in its table, and each table once"
        )
    return RulebookError(file, key, f"not valid TOML ({what})", "Correct what stands at or just before this place")


def not_a_record(file: str, key: str, raw: Any, model: type[BaseModel], error: ValidationError) -> RulebookError:
    """The error for the table ``raw`` that should be a record of ``model`` and stands at ``key``: every fault of it."""
    told = [
        RulebookError(file, ".".join([key, *_path(fault, raw)]), *_problem_and_remedy(fault, model))
        for fault in _one_a_value(error.errors(include_url=False), raw)
    ]
    told[0].others = tuple(told[1:])
    return told[0]


def _one_a_value(faults: list[ErrorDetails], raw: Any) -> Iterator[ErrorDetails]:
    """One fault for each value: where it may take several shapes, that of the shape which fits it furthest."""
    while faults:
        first = faults[0]
        top = _path(first, raw)
        same = [fault for fault in faults if _path(fault, raw)[: len(top)] == top]
        faults = [fault for fault in faults if fault not in same]
        if all(fault["type"] == "literal_error" and _path(fault, raw) == top for fault in same):
            yield first | {"ctx": {"expected": " or ".join(fault["ctx"]["expected"] for fault in same)}}
        else:
            yield max(same, key=lambda fault: len(fault["loc"]))


def _path(fault: ErrorDetails, raw: Any) -> list[str]:
    """The part of a fault's location that is a path in the file: choices between shapes add steps of their own."""
    here, path = raw, []
    for step in fault["loc"]:
        # A list is looked into by position, a table by key.
        inside = dict(enumerate(here)) if isinstance(here, list) else here
        if isinstance(inside, dict) and step in inside:
            here = inside[step]
            path.append(str(step))
    if fault["type"] == "missing" and isinstance(fault["loc"][-1], str):
        path.append(fault["loc"][-1])
    return path


def _problem_and_remedy(fault: ErrorDetails, model: type[BaseModel]) -> tuple[str, str]:
    kind, location = fault["type"], fault["loc"]
    if kind == "extra_forbidden":
        fields = _record_at(location, model).model_fields
        names = sorted(field.alias or name for name, field in fields.items())
        near = get_close_matches(str(location[-1]), names, n=1)
        meant = f"Did you mean {near[0]!r}? " if near else ""
        return "unknown key", f"{meant}Allowed here: {', '.join(names)}"
    if kind == "missing" and isinstance(location[-1], int):
        return "too little is listed", f"Give {location[-1] + 1} at least"
    if kind == "missing":
        return "this key is missing", f"Add a line with {location[-1]} = and its value"
    if kind == "literal_error":
        word = location[-2] if location[-1] == "[key]" else fault["input"]
        return f"{word!r} is not one of the words for this", f"Write {fault['ctx']['expected']}"
    if kind == "value_error":
        return fault["msg"].removeprefix("Value error, "), "Change the record so that this holds"
    problem, remedy = WRONG_TYPE.get("list_type" if kind == "tuple_type" else kind) or _FAULTS.get(
        kind, (fault["msg"], "Correct the value")
    )
    return problem.removeprefix("is "), remedy.format(**fault.get("ctx", {}))


def _record_at(location: tuple[int | str, ...], model: type[BaseModel]) -> type[BaseModel]:
    """The model of the record that the last step of ``location`` stands in."""
    for step in location[:-1]:
        for name, field in model.model_fields.items():
            if (field.alias or name) == step:
                model = next(_models(field.annotation), model)
                break
    return model


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _models(part)
