"""Two JSON schemas of OpenAPI documents held against each other: what of the newer one breaks a client of the older.

Of a request, all that was taken must still be taken. Of an answer, all that was promised must still hold: fields stay,
are always there where they were, and keep their types; new fields and new words may come. A keyword that is not known
here raises, so that nothing passes by being overlooked.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, Final, Literal, NamedTuple

__all__ = ["Break", "SchemaComparer", "Way"]

Schema = Mapping[str, Any]
Way = Literal["request", "answer"]

_SAYS_NOTHING: Final = {"title", "description", "examples", "example", "deprecated"}
_LOWEST: Final = ("minimum", "exclusiveMinimum", "minLength", "minItems")
_HIGHEST: Final = ("maximum", "exclusiveMaximum", "maxLength", "maxItems")
_TEXTUAL: Final = ("pattern", "format")
_OBJECT: Final = ("properties", "required", "additionalProperties", "propertyNames")
_ARRAY: Final = ("items", "prefixItems")
_KNOWN: Final = {
    *_SAYS_NOTHING,
    *_LOWEST,
    *_HIGHEST,
    *_TEXTUAL,
    *_OBJECT,
    *_ARRAY,
    *("type", "enum", "const", "anyOf", "oneOf", "default"),
}
_REF: Final = "#/components/schemas/"
_NAME: Final = "x-name"
"""Where the name of a schema stands once its reference is followed."""
_TYPES: Final = {str: "string", bool: "boolean", int: "integer", float: "number", type(None): "null"}
_WIDER: Final = {"integer": "number"}


class Break(NamedTuple):
    """One thing that a client of the older document may stumble over."""

    at: str
    """``Fitting.stage``, where the schema has a name; else the operation and what of it."""
    kind: str
    detail: str = ""

    def __str__(self) -> str:
        return f"{self.at}: {self.kind}" + (f" ({self.detail})" if self.detail else "")


class SchemaComparer:
    """Compares schemas of two documents, each with its components."""

    def __init__(self, before: Schema, after: Schema) -> None:
        self._before: Schema = before.get("components", {}).get("schemas", {})
        self._after: Schema = after.get("components", {}).get("schemas", {})
        self._found: dict[tuple[str, str, str, Way], tuple[Break, ...]] = {}

    def breaks(self, before: Any, after: Any, at: str, way: Way) -> tuple[Break, ...]:
        """What breaks where ``after`` stands in the place of ``before``. Raises ValueError for an unknown keyword."""
        if isinstance(before, dict) and "$ref" in before:
            at = before["$ref"].removeprefix(_REF)
        key = (json.dumps(before, sort_keys=True), json.dumps(after, sort_keys=True), at, way)
        if key not in self._found:
            self._found[key] = ()  # a schema that has itself as a part: what breaks is said once
            was, now = _alternatives(before, self._before), _alternatives(after, self._after)
            found = (*self._of_alternatives(was, now, at, way), *_of_default(before, after, at, way))
            self._found[key] = tuple(dict.fromkeys(found))
        return self._found[key]

    def _of_alternatives(self, before: list[Schema], after: list[Schema], at: str, way: Way) -> Iterator[Break]:
        needed, offered = (before, after) if way == "request" else (after, before)
        for one in needed:
            tried = [
                tuple(self._of_one(one, other, at, way) if way == "request" else self._of_one(other, one, at, way))
                for other in _counterparts(one, offered)
            ]
            if tried:
                yield from min(tried, key=len)
            elif len(needed) == len(offered) == 1:
                yield Break(at, "type", f"{_named(before[0])} is {_named(after[0])}")
            else:
                yield Break(at, "no longer taken" if way == "request" else "newly answered", _named(one))
        if way == "answer" and len(before) > 1:
            gone = [one for one in before if not any(_comparable(one, other) for other in after)]
            yield from (Break(at, "no longer answered", _named(one)) for one in gone if _types(one) != {"null"})

    def _of_one(self, before: Schema, after: Schema, at: str, way: Way) -> Iterator[Break]:
        yield from _of_types(before, after, at, way)
        yield from _of_words(before, after, at, way)
        yield from _of_bounds(before, after, at, way)
        yield from self._of_fields(before, after, at, way)
        yield from self._of_items(before, after, at, way)

    def _of_fields(self, before: Schema, after: Schema, at: str, way: Way) -> Iterator[Break]:
        was, now = before.get("properties", {}), after.get("properties", {})
        for name, part in was.items():
            if name in now:
                yield from self.breaks(part, now[name], f"{at}.{name}", way)
            else:
                yield Break(f"{at}.{name}", "field gone")
        musts = set(before.get("required", ())), set(after.get("required", ()))
        if way == "request":
            yield from (Break(f"{at}.{name}", "newly required") for name in sorted(musts[1] - musts[0]))
        else:
            yield from (
                Break(f"{at}.{name}", "no longer always there") for name in sorted(musts[0] - musts[1] & {*now})
            )
        yield from self._of_part("propertyNames", before, after, f"{at} names", way)
        yield from self._of_others(before, after, at, way)

    def _of_others(self, before: Schema, after: Schema, at: str, way: Way) -> Iterator[Break]:
        """Fields that are not named: refused, taken, or of one schema."""
        key = "additionalProperties"
        was, now = before.get(key, True), after.get(key, True)
        if way == "request" and was is not False and now is False:
            yield Break(at, "unknown fields refused")
        elif way == "answer" and was is False and now is not False:
            yield Break(at, "any field answered")
        elif was is not False and now is not False:
            yield from self._of_part(key, before, after, f"{at}.*", way)

    def _of_items(self, before: Schema, after: Schema, at: str, way: Way) -> Iterator[Break]:
        yield from self._of_part("items", before, after, f"{at}[]", way)
        was, now = before.get("prefixItems", ()), after.get("prefixItems", ())
        if len(was) != len(now):
            yield Break(at, "length of the row", f"{len(was)} is {len(now)}")
        for number, (one, other) in enumerate(zip(was, now, strict=False)):
            yield from self.breaks(one, other, f"{at}[{number}]", way)

    def _of_part(self, key: str, before: Schema, after: Schema, at: str, way: Way) -> Iterator[Break]:
        """A schema in a schema; without one, anything goes."""
        was, now = (part if isinstance(part := schema.get(key, {}), dict) else {} for schema in (before, after))
        if was or now:
            yield from self.breaks(was, now, at, way)


def _resolved(schema: Any, components: Schema) -> Schema:
    if isinstance(schema, bool):
        if not schema:
            raise ValueError("a schema that nothing fits cannot be compared")
        return {}
    found = dict(schema)
    while "$ref" in found:
        name = found.pop("$ref").removeprefix(_REF)
        found = {**components[name], _NAME: name, **found}
    unknown = {key for key in found if key not in _KNOWN and not key.startswith("x-")}
    if unknown:
        raise ValueError(f"keywords that cannot be compared: {', '.join(sorted(unknown))}")
    return found


def _alternatives(schema: Any, components: Schema) -> list[Schema]:
    """The schemas of which one must fit, each without further ones: also one for each type that is named."""
    found = _resolved(schema, components)
    parts = found.get("anyOf", found.get("oneOf"))
    if parts is not None:
        common = {
            key: value for key, value in found.items() if key not in {"anyOf", "oneOf", *_SAYS_NOTHING, "default"}
        }
        return [{**common, **one} for part in parts for one in _alternatives(part, components)]
    if isinstance(found.get("type"), list):
        return [{**found, "type": name} for name in found["type"]]
    return [found]


def _words(schema: Schema) -> list[Any] | None:
    return [schema["const"]] if "const" in schema else schema.get("enum")


def _types(schema: Schema) -> set[str]:
    """The types that are named, or those of the words; none where anything goes."""
    if "type" in schema:
        return {schema["type"]}
    return {_TYPES[type(word)] for word in _words(schema) or ()}


def _comparable(one: Schema, other: Schema) -> bool:
    """Whether there is a type that both have; ``integer`` is a ``number``."""
    types = [_types(schema) for schema in (one, other)]
    if not all(types):
        return True
    wide = [found | {_WIDER[name] for name in found if name in _WIDER} for found in types]
    return bool(wide[0] & wide[1])


def _counterparts(one: Schema, offered: list[Schema]) -> list[Schema]:
    """Those of ``offered`` that can stand for ``one``: the one of the same name, else all of a type that it has."""
    found = [other for other in offered if _comparable(one, other)]
    return [other for other in found if _NAME in one and other.get(_NAME) == one[_NAME]] or found


def _named(schema: Schema) -> str:
    words = _words(schema)
    return str(schema.get("title") or " ".join(sorted(_types(schema))) or "anything") + (f" {words}" if words else "")


def _of_types(before: Schema, after: Schema, at: str, way: Way) -> Iterator[Break]:
    was, now = _types(before), _types(after)
    narrow, wide = (was, now) if way == "request" else (now, was)
    if wide and (not narrow or not all(name in wide or _WIDER.get(name) in wide for name in narrow)):
        yield Break(at, "type", f"{_named(before)} is {_named(after)}")


def _of_words(before: Schema, after: Schema, at: str, way: Way) -> Iterator[Break]:
    was, now = _words(before), _words(after)
    if was is None:
        if now is not None and way == "request":
            yield Break(at, "narrowed to words")
    elif now is None:
        if way == "answer":
            yield Break(at, "no longer one of the words")
    else:
        yield from (Break(at, "word gone", str(word)) for word in was if word not in now)


def _of_bounds(before: Schema, after: Schema, at: str, way: Way) -> Iterator[Break]:
    strict, loose = (after, before) if way == "request" else (before, after)
    for keys, sign in ((_LOWEST, 1), (_HIGHEST, -1)):
        for key in keys:
            if key in strict and (key not in loose or sign * strict[key] > sign * loose[key]):
                yield Break(at, key, f"{before.get(key)} is {after.get(key)}")
    for key in _TEXTUAL:
        if key in strict and strict[key] != loose.get(key):
            yield Break(at, key, f"{before.get(key)} is {after.get(key)}")


def _of_default(before: Any, after: Any, at: str, way: Way) -> Iterator[Break]:
    """What is taken where nothing is sent; of an answer, nothing is left out by that."""
    was, now = (schema.get("default") if isinstance(schema, dict) else None for schema in (before, after))
    if way == "request" and was != now:
        yield Break(at, "default", f"{was} is {now}")
