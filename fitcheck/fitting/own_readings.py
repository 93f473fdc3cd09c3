"""Readings of quantities that a book has of its own: ``observations.own``, by quantity and place; ``own`` of a nail.

The contract names none of them.  What one is called, where it is read and what may stand there is the book's to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationError
from pydantic_core import CoreSchema, InitErrorDetails, PydanticCustomError, core_schema

from fitcheck.fitting.input_value import InputValue, OfQuantity, as_sent
from rules import Rulebook, shipped_rulebook
from rules.lazy import lazily
from rules.model.records import Quantity

if TYPE_CHECKING:
    from fitcheck.fitting.reading_schema import reading_schema
else:
    reading_schema = lazily("fitcheck.fitting.reading_schema", "reading_schema")

__all__ = ["OWN", "OwnOfANail", "OwnReadings", "of_this_book", "own_path", "own_quantities"]

OWN: Final = "observations.own"
"""The field that has them."""

_NAIL: Final = "nail"
_EACH_NAIL: Final = "observations.nails.{nail}.own"
"""The field that has those of one nail."""

_DERIVED: Final = "own quantities"
_MOST: Final = 200
"""No more quantities, and no more places of one, are taken."""


def own_path(quantity: str, place: str) -> str:
    """The path of the reading of ``quantity`` at ``place``, ``{nail}`` left open for that at any nail."""
    return f"{_EACH_NAIL}.{quantity}" if place == _NAIL else f"{OWN}.{quantity}.{place}"


def own_quantities(book: Rulebook) -> Mapping[str, Quantity]:
    """The quantities that ``book`` has and the one beneath it has not; none of a book that is written out whole."""
    known: Mapping[str, Quantity] | None = book.derived.get(_DERIVED)
    if known is None:
        shipped = shipped_rulebook().quantities
        known = {name: each for name, each in book.quantities.items() if book.inherits and name not in shipped}
        book.derived[_DERIVED] = known
    return known


def of_this_book(document: Any, book: Rulebook) -> Any:
    """A fitting's document without what another book had of its own: ``book`` does not know what that was."""
    observations = document.get("observations") if isinstance(document, dict) else None
    if not isinstance(observations, dict):
        return document
    known = own_quantities(book)
    kept = _of_these(observations, known)
    nails = kept.get("nails")
    if isinstance(nails, list):
        kept = {**kept, "nails": [_of_these(nail, known) for nail in nails]}
    return {**document, "observations": kept}


def _of_these(holder: Any, known: Mapping[str, Quantity]) -> Any:
    own = holder.get("own") if isinstance(holder, dict) else None
    if not isinstance(own, dict) or own.keys() <= known.keys():
        return holder
    return {**holder, "own": {name: each for name, each in own.items() if name in known}}


class _Own:
    """Marks a field as such readings; names, places, ranges and words are those of the book in the context."""

    def _validate(self, raw: Any, info: core_schema.ValidationInfo) -> Any:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            self._validate,
            serialization=core_schema.plain_serializer_function_ser_schema(_serialized),
        )

    def _reading_schema(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        if schema["type"] == "function-plain":
            schema = {**schema, "json_schema_input_schema": reading_schema()}
        return {"anyOf": [handler(schema), {"type": "boolean"}]}


class OwnOfANail(_Own):
    """Marks a field as such readings of one nail, by quantity."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        reading = self._reading_schema(schema, handler)
        return {"type": "object", "additionalProperties": reading, "title": "Own"}

    def _validate(self, raw: Any, info: core_schema.ValidationInfo) -> dict[str, InputValue | str | bool]:
        if not isinstance(raw, dict) or len(raw) > _MOST:
            raise _refused("an object belongs here.", "an object with names of quantities as keys")
        known = {name: each for name, each in _known_to(info).items() if _NAIL in each.places}
        read: dict[str, InputValue | str | bool] = {}
        faults: list[InitErrorDetails] = []
        for name, value in raw.items():
            try:
                if name not in known:
                    names = ", ".join(known) or "none: this rulebook has no quantity of its own at each nail"
                    raise _refused(f"This rulebook has no quantity of its own called {_short(name)} at a nail.", names)
                read[name] = _reading(name, known[name], _NAIL, value, info)
            except PydanticCustomError as wrong:
                faults.append(_at(wrong, value, name))
        if faults:
            raise ValidationError.from_exception_data("own", faults)
        return read


class OwnReadings(_Own):
    """Marks a field as such readings of the foot and of its places, by quantity and place."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        reading = self._reading_schema(schema, handler)
        places = {"type": "object", "additionalProperties": reading}
        return {"type": "object", "additionalProperties": places, "title": "Own"}

    def _validate(self, raw: Any, info: core_schema.ValidationInfo) -> dict[str, dict[str, InputValue | str | bool]]:
        if not isinstance(raw, dict) or len(raw) > _MOST:
            raise _refused("an object belongs here.", "an object with names of quantities as keys")
        known = _known_to(info)
        read: dict[str, dict[str, InputValue | str | bool]] = {}
        faults: list[InitErrorDetails] = []
        for name, places in raw.items():
            if name not in known:
                names = ", ".join(known) or "none: this rulebook has no quantity of its own"
                wrong = _refused(f"This rulebook has no quantity of its own called {_short(name)}.", names)
                faults.append(_at(wrong, places, name))
            elif not isinstance(places, dict) or len(places) > _MOST:
                wrong = _refused("an object belongs here.", _places(known[name]))
                faults.append(_at(wrong, places, name))
            else:
                read[name] = {}
                for place, value in places.items():
                    try:
                        if place == _NAIL:
                            raise _refused(
                                f"{_short(name)} is read at each nail.", f"{_EACH_NAIL.format(nail='N')}.{name}"
                            )
                        read[name][place] = _reading(name, known[name], place, value, info)
                    except PydanticCustomError as wrong:
                        faults.append(_at(wrong, value, name, place))
        if faults:
            raise ValidationError.from_exception_data("own", faults)
        return read


def _known_to(info: core_schema.ValidationInfo) -> Mapping[str, Quantity]:
    return own_quantities((info.context or {}).get("book") or shipped_rulebook())


def _reading(
    name: str, quantity: Quantity, place: Any, value: Any, info: core_schema.ValidationInfo
) -> InputValue | str | bool:
    if place not in quantity.places:
        raise _refused(f"{_short(place)} is no place of {name}.", _places(quantity))
    if quantity.kind == "number":
        return OfQuantity(name).read(value, info)
    if quantity.kind == "flag":
        if not isinstance(value, bool):
            raise _refused("this is neither true nor false.", "true or false")
        return value
    if not isinstance(value, str) or value not in quantity.vocabulary:
        words = ", ".join(f'"{word}"' for word in quantity.vocabulary)
        raise _refused("this is not one of the words known here.", f"one of {words}")
    return value


def _places(quantity: Quantity) -> str:
    places = [place for place in quantity.places if place != _NAIL]
    return f"an object with the keys {', '.join(places)}" if places else f"{_EACH_NAIL.format(nail='N')}.NAME"


def _at(fault: PydanticCustomError, value: Any, *path: Any) -> InitErrorDetails:
    return InitErrorDetails(type=fault, loc=tuple(map(_printable, path)), input=value)


def _refused(detail: str, allowed: str) -> PydanticCustomError:
    return PydanticCustomError("reading", "{detail}", {"detail": detail[0].upper() + detail[1:], "allowed": allowed})


_LONGEST: Final = 40


def _printable(name: Any) -> str:
    """The name, without the half characters that no UTF-8 can hold."""
    return str(name).encode("utf-8", "replace").decode()


def _short(name: Any) -> str:
    text = _printable(name)
    return f'"{text[:_LONGEST]}…"' if len(text) > _LONGEST else f'"{text}"'


def _serialized(readings: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: _serialized(each) if isinstance(each, dict) else as_sent(each) if isinstance(each, InputValue) else each
        for name, each in readings.items()
    }
