"""A fitting from parsed JSON, every fault told in the trade's terms: where, what stands there, what may, what to do.

The validator's own wording never reaches a caller: its error types are translated here, and what is allowed is read
off the models themselves.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, NamedTuple, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.identity import PATTERN_WORDS
from fitcheck.fitting.input_value import OfQuantity
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.strict_json import WHOLE, cut
from rules import Rulebook
from rules.errors import WRONG_TYPE
from rules.lazy import lazily

if TYPE_CHECKING:
    from difflib import get_close_matches
else:
    get_close_matches = lazily("difflib", "get_close_matches")

__all__ = ["MOST_LISTED", "parse_fitting", "parsed_as", "summary"]

M = TypeVar("M", bound=BaseModel)

MOST_LISTED: Final = 20
"""No more problems than this are listed at once; one more line tells how many there are besides."""

_LONGEST_TEXT: Final = 100
_LONGEST_KEY: Final = 60
_MOST_KEYS: Final = 8
_LARGEST_WHOLE: Final = 2**53
_KEY: Final = "[key]"
_REQUIRED: Final = "this key is required"
_REFERENCE: Final = "what the reference says of this field"
_DETAILS: Final = {
    **{kind: f"{{shown}} {problem}. {remedy}." for kind, (problem, remedy) in WRONG_TYPE.items()},
    "finite_number": "{shown} is not a finite number. Correct it.",
    "dict_type": "{shown} stands where an object belongs. Write an object in braces.",
    "greater_than_equal": "{shown} is too small. Check the number and its unit.",
    "less_than_equal": "{shown} is too large. Check the number and its unit.",
    "literal_error": "{shown} is not one of the words known here. Use one of them.",
    "missing": "This key is missing. Add it.",
    "model_type": "{shown} stands where an object belongs. Write an object in braces.",
    "string_pattern_mismatch": "{shown} is not written as it must be. Check it.",
    "string_too_long": "This text is too long. Shorten it.",
    "string_too_short": "This text is empty. Fill it in or leave the key out.",
    "string_unicode": "This text holds half a character. Write it again.",
    "too_long": "{shown} is too long here. Take out what is too much.",
    "too_short": "{shown} is too short here. Add what is missing.",
}
_OTHERWISE: Final = "{shown} does not belong here. Correct it."


def parse_fitting(raw: object, book: Rulebook | None = None) -> Fitting:
    """The fitting that ``raw``, a parsed JSON document, describes; ranges and eye words are those of ``book``.

    Raises BadInput with at most MOST_LISTED problems, and one more that counts the rest.

    >>> parse_fitting({"foot": "left_fore", "stage": "nailed", "work": "draft", "observations": {}})
    Traceback (most recent call last):
    fitcheck.errors.BadInput: work: "draft" is not one of the words known here. Did you mean "draught"? Allowed: \
one of "riding", "harness", "draught".
    """
    return parsed_as(Fitting, raw, {"book": book}, "fitting")


def parsed_as(model: type[M], raw: object, context: Mapping[str, Any] | None = None, called: str = "document") -> M:
    """What ``raw``, a parsed JSON document, describes, as ``model``; ``called`` is its name in a sentence.

    Raises BadInput as :func:`parse_fitting` does.
    """
    try:
        return model.model_validate(raw, context=context)
    except ValidationError as error:
        faults = error.errors(include_url=False)
        problems = [_problem(fault, raw, model) for fault in faults[:MOST_LISTED]]
        more = len(faults) - len(problems)
        if more:
            problems.append(
                Problem(
                    WHOLE,
                    None,
                    f"at most {MOST_LISTED} problems are listed at once",
                    f"There {'is 1 more problem' if more == 1 else f'are {more} more problems'}. "
                    f"Correct those above, then send the {called} again.",
                )
            )
        raise BadInput(problems) from None


def summary(value: object) -> Any:
    """``value`` short enough to be shown and fit for JSON: long texts are cut, lists and objects only described.

    >>> summary([1, 2]), summary({"a": 1}), summary(float("nan")), summary(2.5)
    ('a list of 2', 'an object with the key a', 'NaN', 2.5)
    """
    if value is None or isinstance(value, bool):
        short: Any = value
    elif isinstance(value, int):
        short = value if abs(value) <= _LARGEST_WHOLE else "a whole number that is far too large"
    elif isinstance(value, float):
        short = value if math.isfinite(value) else str(value).replace("nan", "NaN").replace("inf", "Infinity")
    elif isinstance(value, str):
        # Not spelt out: it is the value as it was sent.
        whole = value[:_LONGEST_TEXT].encode(errors="replace").decode()
        short = f"{whole}…" if len(value) > _LONGEST_TEXT else whole
    elif isinstance(value, list | tuple):
        short = f"a list of {len(value)}" if value else "an empty list"
    elif isinstance(value, dict):
        keys = [cut(str(key), _LONGEST_KEY) for key, _ in zip(value, range(_MOST_KEYS), strict=False)]
        more = f" and {len(value) - len(keys)} more" if len(value) > len(keys) else ""
        named = f"an object with the {'key' if len(value) == 1 else 'keys'} {', '.join(keys)}{more}"
        short = named if value else "an empty object"
    else:
        short = "something that JSON does not have"
    return short


def _problem(fault: ErrorDetails, raw: object, model: type[BaseModel]) -> Problem:
    kind, context = fault["type"], fault.get("ctx", {})
    location = [step for step in fault["loc"] if step != _KEY]
    if kind == "contradiction":
        location += [int(step) if step.isdecimal() else step for step in context["field"].split(".")]
    value = None if kind == "missing" else _at(raw, location)
    field = ".".join(cut(str(step), _LONGEST_KEY) for step in location) or WHOLE
    if "allowed" in context:
        return Problem(field, summary(value), context["allowed"], _own_words(context, value))
    shape = _Shape(model).along(location)
    if kind in {"extra_forbidden", "invalid_key"} or fault["loc"][-1:] == (_KEY,):
        keys = list(_Shape(model).along(location[:-1]).keys())
        key = cut(str(location[-1]), _LONGEST_KEY)
        detail = f'There is no key "{key}" here. {_meant(key, keys) or "Take it out, or correct its name."}'
        return Problem(field, summary(value), f"the keys {', '.join(keys)}", detail)
    allowed = shape.allowed()
    detail = _DETAILS.get(kind, _OTHERWISE).format(shown=_shown(value))
    if kind == "missing":
        allowed = f"{_REQUIRED}: {allowed}"
    elif kind == "literal_error" and isinstance(value, str) and (meant := _meant(value, shape.words())):
        detail = detail.removesuffix("Use one of them.") + meant
    return Problem(field, summary(value), allowed, detail)


def _own_words(context: Mapping[str, str], value: object) -> str:
    """The detail of one of our own errors, on one line, with nothing quoted in it but text."""
    for part in ("unit", "method"):
        if isinstance(value, dict) and context["allowed"].startswith((part, f"no {part}")):
            stated = value.get(part)
            if not isinstance(stated, str):
                return f"{_shown(stated)} is not a {part} for this reading."
    return cut(context["detail"], len(context["detail"]))


def _at(raw: object, location: Iterable[int | str]) -> object:
    here = raw
    for step in location:
        if isinstance(here, dict):
            here = here.get(step)
        elif isinstance(here, list | tuple) and isinstance(step, int) and step < len(here):
            here = here[step]
        else:
            return None
    return here


def _shown(value: object) -> str:
    """``value`` at the head of a sentence."""
    if isinstance(value, str):
        return f'"{cut(value)}"'
    short = summary(value)
    if short is None or isinstance(short, bool):
        return {None: "null", True: "true", False: "false"}[short]
    text = str(short)
    return text[:1].upper() + text[1:]


def _meant(word: str, known: Iterable[str]) -> str:
    close = get_close_matches(word[:_LONGEST_KEY], list(known), n=1)
    return f'Did you mean "{close[0]}"?' if close else ""


class _Shape(NamedTuple):
    """What the models expect at one path: a type and the constraints on it."""

    kind: Any
    constraints: tuple[Any, ...] = ()

    def along(self, location: Iterable[int | str]) -> _Shape:
        """The shape that ``location`` leads to from here; of anything at all where it leaves the models."""
        here = self.bare()
        for step in location:
            here = here.inside(step).bare()
        return here

    def bare(self) -> _Shape:
        """Without Annotated and without the alternative null."""
        kind, constraints = self.kind, list(self.constraints)
        while True:
            if get_origin(kind) is Annotated:
                kind, *more = get_args(kind)
                constraints += more
            elif get_origin(kind) in {Union, UnionType}:
                kind = next(part for part in get_args(kind) if part is not NoneType)
            else:
                return _Shape(kind, tuple(_flat(constraints)))

    def inside(self, step: int | str) -> _Shape:
        if self.fields is not None:
            field = self.fields.get(str(step))
            return _Shape(Any) if field is None else _Shape(field.annotation, tuple(field.metadata))
        parts = get_args(self.kind)
        if get_origin(self.kind) is list:
            return _Shape(parts[0])
        return _Shape(parts[1]) if get_origin(self.kind) is dict else _Shape(Any)

    @property
    def fields(self) -> dict[str, FieldInfo] | None:
        if isinstance(self.kind, type) and issubclass(self.kind, BaseModel):
            return {field.alias or name: field for name, field in self.kind.model_fields.items()}
        return None

    def keys(self) -> Iterator[str]:
        """The keys that an object may have here."""
        if self.fields is not None:
            yield from self.fields
        elif get_origin(self.kind) is dict:
            yield from _Shape(get_args(self.kind)[0]).bare().words()

    def words(self) -> tuple[str, ...]:
        """The closed words that may stand here; none for anything else."""
        return get_args(self.kind) if get_origin(self.kind) is Literal else ()

    def limit(self, name: str) -> Any:
        """The constraint of that name, such as ``le`` or ``pattern``; None where there is none."""
        return next((found for part in self.constraints if (found := getattr(part, name, None)) is not None), None)

    def allowed(self) -> str:
        """What may stand here, in words."""
        if words := self.words():
            return "one of " + ", ".join(f'"{word}"' for word in words)
        if keys := list(self.keys()):
            return f"an object with the keys {', '.join(keys)}"
        if get_origin(self.kind) is list:
            return f"a list of {self._count()} {self.inside(0).bare().several()}"
        if self.kind in (int, float):
            return f"a {'whole ' if self.kind is int else ''}number{self._range()}"
        if self.kind is bool:
            return "true or false"
        return self._text() if self.kind is str else self._reading()

    def _reading(self) -> str:
        reading = next((mark for mark in self.constraints if isinstance(mark, OfQuantity)), None)
        return _REFERENCE if reading is None else reading.allowed(None)

    def several(self) -> str:
        """What may stand here, of several."""
        if self.fields is not None:
            return "objects"
        if get_origin(self.kind) is list:
            return f"lists of {self._count()} {self.inside(0).bare().several()}"
        return "numbers" if self.kind in (int, float) else "texts"

    def _count(self) -> str:
        least, most = self.limit("min_length"), self.limit("max_length")
        if least == most:
            return str(most)
        return f"{least} to {most}" if least else f"at most {most}"

    def _range(self) -> str:
        least, most = self.limit("ge"), self.limit("le")
        return "" if least is None or most is None else f" from {least:g} to {most:g}"

    def _text(self) -> str:
        pattern = self.limit("pattern")
        words = "" if pattern is None else PATTERN_WORDS.get(pattern, _REFERENCE)
        if self.limit("max_length") is None:
            return words or "text"
        return f"text of {self._count()} characters{', ' if words else ''}{words}"


def _flat(constraints: Iterable[Any]) -> Iterator[Any]:
    for constraint in constraints:
        if isinstance(constraint, FieldInfo):
            yield from _flat(constraint.metadata)
        else:
            yield constraint
