"""One reading as the farrier gives it: a number, a workshop fraction in inches, or a word of the eye.

A reading keeps what was given; :func:`settle` turns it into a number in the quantity's own unit with its standard
uncertainty, by the rulebook's defaults.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any, Final, NamedTuple, cast, get_args

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from rules import Rulebook, shipped_rulebook
from rules.lazy import lazily
from rules.model.records import Method, Quantity

if TYPE_CHECKING:
    from fitcheck.fitting.reading_schema import reading_schema
else:
    reading_schema = lazily("fitcheck.fitting.reading_schema", "reading_schema")

__all__ = [
    "InputValue",
    "MeasuredValue",
    "Method",
    "OfQuantity",
    "as_sent",
    "documented_by",
    "in_unit",
    "measured_value",
    "only_a_word",
    "units_for",
]


class _Scale(NamedTuple):
    """How a unit becomes the base unit: ``base = factor * (value - zero)``."""

    base: str
    factor: float
    zero: float = 0.0


_SCALES: Final[dict[str, _Scale]] = {
    "mm": _Scale("mm", 1.0),
    "cm": _Scale("mm", 10.0),
    "in": _Scale("mm", 25.4),  # exact since the international yard and pound agreement of 1959
    "deg": _Scale("deg", 1.0),
    "s": _Scale("s", 1.0),
    "degC": _Scale("degC", 1.0),
    "degF": _Scale("degC", 5.0 / 9.0, 32.0),
    "kg": _Scale("kg", 1.0),
}
_FRACTION: Final = re.compile(r"\s*(-)?\s*(?:(\d{1,3})\s+)?(\d{1,3})/(\d{1,3})\s*|\s*(-)?\s*(\d{1,3})\s*")
_DOCUMENTED: Final[ContextVar[Rulebook | None]] = ContextVar("describing", default=None)
_NO_CONTEXT: Final[dict[str, Any]] = {}
_QUOTED: Final = 40  # characters of a wrong word that a message repeats
_KEYS: Final = ("value", "unit", "u", "method")


class InputValue(NamedTuple):
    """A reading as given: a number in ``unit``, or an eye ``word``; ``u`` and ``method`` where they were stated."""

    value: float | None
    unit: str
    u: float | None = None
    method: Method | None = None
    word: str | None = None


@contextmanager
def documented_by(book: Rulebook) -> Iterator[None]:
    """JSON schemas that are made within the block have the ranges and eye words of ``book``."""
    token = _DOCUMENTED.set(book)
    try:
        yield
    finally:
        _DOCUMENTED.reset(token)


class MeasuredValue(NamedTuple):
    """A number in the quantity's own unit and its standard uncertainty in that unit."""

    value: float
    u: float


def units_for(unit: str) -> tuple[str, ...]:
    """The units in which a number of the quantity's own ``unit`` may be given, that one first.

    >>> units_for("mm"), units_for("1")
    (('mm', 'cm', 'in'), ('1',))
    """
    return (unit, *(name for name, scale in _SCALES.items() if scale.base == unit != name))


def in_unit(value: float, unit: str) -> float:
    """``value`` in ``unit`` as the base unit's number.

    >>> round(in_unit(0.125, "in"), 3), round(in_unit(212, "degF"), 1)
    (3.175, 100.0)
    """
    scale = _SCALES.get(unit)
    return value if scale is None else scale.factor * (value - scale.zero)


def measured_value(reading_input: InputValue, quantity_id: str, book: Rulebook) -> MeasuredValue:
    """The number that ``reading_input`` stands for, in the own unit of ``quantity_id``, with its standard uncertainty.

    A stated ``u`` counts first, then the eye word's, then the stated method's, then the default of the quantity's
    method or unit in the rulebook.
    """
    unit = book.units.get(quantity_id)
    if reading_input.word is not None:
        meaning = book.eye_words[quantity_id][reading_input.word]  # what only_a_word says no of
        return MeasuredValue(meaning.value, meaning.u)
    if reading_input.value is None:
        raise ValueError("a reading has a value or a word")
    value = in_unit(reading_input.value, reading_input.unit)
    if reading_input.u is not None:
        scale = _SCALES.get(reading_input.unit)
        return MeasuredValue(value, reading_input.u * (scale.factor if scale else 1.0))
    if unit == "mm" and reading_input.method is not None:
        return MeasuredValue(value, book.methods[reading_input.method].u)
    return MeasuredValue(value, book.usual_u[quantity_id])


def only_a_word(reading_input: InputValue, quantity_id: str, book: Rulebook) -> bool:
    """Whether it is a word of the eye for which ``book`` has no number: such a word is kept and not judged."""
    word = reading_input.word
    return word is not None and word not in book.eye_words.get(quantity_id, ())


_QuantityRules = tuple[Rulebook, Quantity, tuple[str, ...], str, float, float]
"""What one rulebook says of a quantity: the book, its record, its eye words, its unit and its range."""


class OfQuantity:
    """Marks a model's field as a reading of one quantity: ``Annotated[InputValue, OfQuantity("gap", ("none",))]``.

    Its range, unit and eye words come from the rulebook in the validation context (key ``book``), the shipped one
    without a context or where that one does not know the quantity; ``words`` of the eye that any book takes besides.
    """

    def __init__(self, quantity_id: str, words: tuple[str, ...] = ()) -> None:
        self.quantity_id = quantity_id
        self.words = words
        self._quantity_rules: _QuantityRules | None = None

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            self.read,
            serialization=core_schema.plain_serializer_function_ser_schema(as_sent),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        if schema["type"] == "function-plain":
            # Documents alone need it: given to the validator, it would be gone through for every field at each start.
            schema = {**schema, "json_schema_input_schema": reading_schema()}
        book = _DOCUMENTED.get() or shipped_rulebook()
        quantity = book.quantities.get(self.quantity_id) or shipped_rulebook().quantities[self.quantity_id]
        return {
            **handler(schema),
            "title": quantity.title,
            "description": f"{quantity.how} {_documented(quantity, self._words_of(book))}",
        }

    def read(self, raw: Any, info: core_schema.ValidationInfo) -> InputValue:
        """What was sent as a reading.  Raises PydanticCustomError."""
        book: Rulebook = (info.context or _NO_CONTEXT).get("book") or shipped_rulebook()
        quantity_rules = self._quantity_rules
        if quantity_rules is None or quantity_rules[0] is not book:
            quantity_rules = self._quantity_rules = self._rules_of(book)
        _, quantity, words, unit, least, most = quantity_rules
        if raw.__class__ is float and least <= raw <= most:
            return InputValue(raw, unit)  # as most readings are sent
        if isinstance(raw, InputValue):
            return raw
        if isinstance(raw, str):
            return _word(raw, words, quantity)
        if isinstance(raw, dict):
            return _object(raw, words, quantity)
        number = _number(raw)
        if number is None:
            raise _refused("a reading is needed here.", _allowed(quantity, words))
        return _in_range(InputValue(number, unit), quantity)

    def allowed(self, book: Rulebook | None) -> str:
        """What may stand in the field, in words; ``book`` is the shipped one when None."""
        _, quantity, words, *_ = self._rules_of(book or shipped_rulebook())
        return _allowed(quantity, words)

    def _words_of(self, book: Rulebook) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*book.eye_words.get(self.quantity_id, ()), *self.words)))

    def _rules_of(self, book: Rulebook) -> _QuantityRules:
        quantity = book.quantities.get(self.quantity_id) or shipped_rulebook().quantities[self.quantity_id]
        words = self._words_of(book)
        # Without a range nothing is quick: an infinite number would lie within infinite ends.
        return book, quantity, words, quantity.unit or "1", *(quantity.range or (math.inf, -math.inf))


def as_sent(reading_input: InputValue) -> Any:
    """A reading as JSON has it."""
    if reading_input.word is not None:
        return reading_input.word
    stated = {"unit": reading_input.unit, "u": reading_input.u, "method": reading_input.method}
    return {"value": reading_input.value} | {
        key: value for key, value in stated.items() if value is not None and value not in {"1", "d"}
    }


def _word(raw: str, words: tuple[str, ...], quantity: Quantity) -> InputValue:
    if raw not in words:
        hint = ' Write a fraction with its unit, such as {"value": "1/8", "unit": "in"}.' if "/" in raw else ""
        raise _refused(f"{_quoted(raw)} is not a reading.{hint}", _allowed(quantity, words))
    return InputValue(None, quantity.unit or "1", word=raw, method="eye")


def _object(raw: dict[Any, Any], words: tuple[str, ...], quantity: Quantity) -> InputValue:
    for key in raw:
        if key not in _KEYS:
            raise _refused(f"unknown key {_quoted(key)} in a reading.", f"the keys {', '.join(_KEYS)}")
    unit, method, u = _unit(raw.get("unit"), quantity), _method(raw.get("method"), quantity), _uncertainty(raw.get("u"))
    value = raw.get("value")
    if value is None:
        raise _refused("a reading needs its value.", _allowed(quantity, words))
    if isinstance(value, str):
        if value in words and raw.keys() == {"value"}:
            return InputValue(None, unit, word=value, method="eye")
        number = _fraction(value)
        if number is None or unit != "in":
            raise _refused(
                f"{_quoted(value)} is not a number.", 'a number, or a fraction such as "1/8" or "1 5/8" with unit "in"'
            )
    else:
        number = _number(value)
        if number is None:
            raise _refused("value must be a finite number.", _allowed(quantity, words))
    return _in_range(InputValue(number, unit, u, method), quantity)


def _unit(unit: Any, quantity: Quantity) -> str:
    units = _units(quantity)
    if unit is None:
        return quantity.unit or "1"
    if unit not in units:
        allowed = f"unit {_listed(units)}" if units else "no unit: a plain number"
        raise _refused(f"{_quoted(unit)} is not a unit for this reading.", allowed)
    return str(unit)


def _method(method: Any, quantity: Quantity) -> Method | None:
    if method is None:
        return None
    if quantity.unit != "mm":
        raise _refused(f"{_quoted(method)} is not a method for this reading.", "no method: only lengths have one")
    for known in get_args(Method):
        if method == known:
            return cast("Method", known)
    raise _refused(f"{_quoted(method)} is not a method for this reading.", f"method {_listed(get_args(Method))}")


def _uncertainty(raw: Any) -> float | None:
    if raw is None:
        return None
    u = _number(raw)
    if u is None or u < 0:
        raise _refused("u, the standard uncertainty, must be a number.", "0 or more, in the reading's unit")
    return u + 0.0  # negative zero becomes zero


def _in_range(reading_input: InputValue, quantity: Quantity) -> InputValue:
    least, most = quantity.range or (-math.inf, math.inf)
    value = in_unit(reading_input.value or 0.0, reading_input.unit)
    if not least <= value <= most:
        shown = f"{value:g} {_unit_title(quantity)}" if reading_input.unit != quantity.unit else f"{value:g}"
        raise _refused(
            f"{shown} cannot be right: check the reading and its unit.",
            f"{least:g} to {most:g} {_unit_title(quantity)}",
        )
    if (
        reading_input.u is not None
        and in_unit(reading_input.u, reading_input.unit) - in_unit(0.0, reading_input.unit) > most - least
    ):
        raise _refused(
            "u is larger than all that is possible: check it and its unit.",
            f"0 to {most - least:g} {_unit_title(quantity)}",
        )
    return reading_input


def _number(raw: Any) -> float | None:
    if isinstance(raw, bool) or not isinstance(raw, (int, float)):
        return None
    try:
        number = float(raw)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def _fraction(text: str) -> float | None:
    """A workshop fraction as a number: ``1/8``, ``1 5/8``, ``2``, each also negative.

    >>> _fraction("1 5/8"), _fraction("-1/16"), _fraction("1/0")
    (1.625, -0.0625, None)
    """
    found = _FRACTION.fullmatch(text) if text.isascii() else None
    if found is None:
        return None
    minus, whole, over, under, minus_whole, alone = found.groups()
    if alone is not None:
        return -float(alone) if minus_whole else float(alone)
    if int(under) == 0:
        return None
    number = int(whole or 0) + int(over) / int(under)
    return -number if minus else number


def _units(quantity: Quantity) -> tuple[str, ...]:
    return tuple(name for name, scale in _SCALES.items() if scale.base == quantity.unit)


def _unit_title(quantity: Quantity) -> str:
    return {"1": "(a fraction or count)", "d": "days"}.get(quantity.unit or "", quantity.unit or "")


def _allowed(quantity: Quantity, words: tuple[str, ...]) -> str:
    least, most = quantity.range or (-math.inf, math.inf)
    eye = f", or {_listed(words)}" if words else ""
    return f"a number from {least:g} to {most:g} {_unit_title(quantity)}, or an object with value, unit, u, method{eye}"


def _documented(quantity: Quantity, words: tuple[str, ...]) -> str:
    """Unit, range, units and words of a field, for its description in a JSON schema."""
    least, most = quantity.range or (-math.inf, math.inf)
    units = [unit for unit in _units(quantity) if unit != quantity.unit]
    also = f"; also in {' or '.join(units)}" if units else ""
    eye = f" By eye: {', '.join(words)}." if words else ""
    return f"In {_unit_title(quantity)}, from {least:g} to {most:g}{also}.{eye}"


def _listed(words: tuple[str, ...]) -> str:
    return " or ".join(f'"{word}"' for word in words)


def _quoted(raw: Any) -> str:
    if not isinstance(raw, str):
        return "this"
    text = raw.encode("utf-8", "replace").decode()
    return f'"{text[:_QUOTED]}…"' if len(text) > _QUOTED else f'"{text}"'


def _refused(detail: str, allowed: str) -> PydanticCustomError:
    # Braces in the text would be taken for placeholders, so both parts go in as context.
    return PydanticCustomError("reading", "{detail}", {"detail": detail[0].upper() + detail[1:], "allowed": allowed})
