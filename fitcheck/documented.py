"""Models whose fields are described by the text that stands below each, read only when a JSON schema is made.

pydantic's own ``use_attribute_docstrings`` reads the source of every class as it is imported, which costs the command's
cold start a tenth of its time for schemas that it never makes.
"""

from __future__ import annotations

import ast
import inspect
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import pairwise
from typing import Annotated

from pydantic import BaseModel, Field, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

__all__ = ["DayText", "DocumentedModel", "Instant", "Uuid", "texts_of"]

Uuid = Annotated[str, Field(json_schema_extra={"format": "uuid"})]
Instant = Annotated[str, Field(json_schema_extra={"format": "date-time"})]
"""A time with its offset, ISO 8601."""
DayText = Annotated[str, Field(json_schema_extra={"format": "date"})]
"""A day, ISO 8601."""


class DocumentedModel(BaseModel):
    """Base of models that stand at the top of their modules; without the source at hand, nothing is described."""

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        schema = handler(core_schema)
        properties = handler.resolve_ref_schema(schema).get("properties", {})
        texts = texts_of(cls)
        for name, field in cls.model_fields.items():
            if field.description is None and name in texts:
                written = properties[field.alias or name]
                # What a type says of itself beside a reference to its schema goes behind the field's own words.
                besides = written.get("description", "") if "$ref" in written else ""
                written["description"] = f"{texts[name]} {besides}".strip()
        return schema


def texts_of(model: type[BaseModel]) -> Mapping[str, str]:
    """The text below each field of ``model``, the inherited ones included."""
    texts: dict[str, str] = {}
    for owner in reversed(model.__mro__):
        texts |= _texts_in(owner.__module__).get(owner.__name__, {}) if _is_ours(owner) else {}
    return texts


def _is_ours(owner: type) -> bool:
    return issubclass(owner, BaseModel) and owner not in {BaseModel, DocumentedModel}


@cache
def _texts_in(module: str) -> Mapping[str, Mapping[str, str]]:
    """The text below each field, by class, of the classes at the top of a module."""
    try:
        source = inspect.getsource(sys.modules[module])
    except (KeyError, OSError, TypeError):  # made at run time, or installed without its source
        return {}
    return {part.name: dict(_texts(part)) for part in ast.parse(source).body if isinstance(part, ast.ClassDef)}


def _texts(owner: ast.ClassDef) -> Iterator[tuple[str, str]]:
    for field, below in pairwise(owner.body):
        match field, below:
            case ast.AnnAssign(target=ast.Name(id=name)), ast.Expr(value=ast.Constant(value=str(text))):
                yield name, inspect.cleandoc(text)
