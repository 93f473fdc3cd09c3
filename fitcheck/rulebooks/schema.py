"""JSON Schemas of a rulebook's TOML files, made of its models and the texts below their keys.

``python -m fitcheck.rulebooks.schema`` writes them to docs/schemas/rulebook: ``whole`` for a book that is written out,
``own`` for one that lays what differs over the shipped book.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from fitcheck.documented import texts_of
from rules.loading.marking_records import Band, CriterionMarks, Deduction, ProgressFigure, Scheme
from rules.model.figures import EyeWord, Level, Parameter, Source, Uncertainty
from rules.model.identity import Book, Decisions, OwnBook, Required
from rules.model.records import Caution, Criterion, JoinedRule, Judges, Place, Quantity, Rule, Standing, Step

__all__ = ["FOLDER", "KINDS", "SECTIONS", "SINGLE", "kind_of", "schemas"]

FOLDER: Final = Path(__file__).parents[2] / "docs" / "schemas" / "rulebook"

SECTIONS: Final[Mapping[str, tuple[type[BaseModel], str]]] = {
    "book": (Book, "Who the book is."),
    "judges": (Judges, "What the book judges."),
    "decisions": (Decisions, "What follows each stage."),
    "levels": (Level, "How likely it must be that a reading lies past a limit: simple, and guarded for critical ones."),
    "required": (Required, "What must be observed at each stage."),
    "places": (Place, "The places of a foot."),
    "steps": (Step, "Steps that are put in front of others."),
    "sources": (Source, "Where figures come from, by the short name that rules give."),
    "cautions": (Caution, "Safety cautions, by the name that rules give."),
    "standing": (Standing, "Cautions that are told with every assessment."),
    "methods": (Uncertainty, "How sure a length is, by the way of measuring."),
    "instruments": (Uncertainty, "How sure other readings are, by their unit."),
    "quantities": (Quantity, "What is observed, by name: small letters and digits with underscores."),
    "rules": (Rule, "Limits on single quantities, by name: small letters and digits with hyphens."),
    "joined": (JoinedRule, "Rules on several findings together, by name: small letters and digits with hyphens."),
    "parameters": (Parameter, "Figures that computations use."),
    "remarks": (Standing, "Sentences that computations add."),
    "criterion": (Criterion, "The criterion of this file."),
    "scheme": (Scheme, "The marking scheme as a whole."),
    "marks": (CriterionMarks, "The marks of each criterion; they add up to the scheme's total."),
    "deductions": (Deduction, "What a finding takes off, by grade."),
    "bands": (Band, "What a mark is called."),
    "progress": (ProgressFigure, "Figures of a person's progress."),
    "says": (Standing, "Sentences of a marked sheet."),
}
"""The model and the meaning of every section."""

SINGLE: Final = frozenset({"book", "judges", "decisions", "required", "criterion", "scheme"})
"""Sections that are one record; in all others each record has a name."""

KINDS: Final[Mapping[str, tuple[str, ...]]] = {
    "book": ("book", "judges", "decisions", "levels", "required", "places", "steps"),
    "criterion": ("criterion", "quantities", "rules"),
    "sources": ("sources",),
    "cautions": ("cautions", "standing"),
    "readings": ("methods", "instruments"),
    "dimensions": ("quantities",),
    "kept": ("quantities",),
    "cross_checks": ("quantities", "rules"),
    "parameters": ("parameters", "remarks"),
    "joined": ("joined",),
    "marking": ("scheme", "marks", "deductions", "bands", "progress", "says"),
}
"""The sections of each kind of file; a file of any other name is a criterion's."""

_MAY_LACK: Final = frozenset({"judges", "decisions", "rules", "quantities"})
_SWITCHED: Final = frozenset({"rules", "joined"})
_OFF: Final = {"type": "boolean", "description": "true switches the inherited rule off; basis says why."}


def kind_of(file: str) -> str:
    """The kind of a rulebook's file by its name."""
    kind = file.removesuffix(".toml")
    return kind if kind in KINDS or kind == "eye_words" else "criterion"


def schemas() -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema by its path below :data:`FOLDER`, without the suffix."""
    for kind in KINDS:
        yield f"whole/{kind}", _schema(kind, own=False)
        yield f"own/{kind}", _schema(kind, own=True)
    yield "whole/eye_words", _eye_words()


def _schema(kind: str, *, own: bool) -> dict[str, Any]:
    models = {name: OwnBook if own and name == "book" else SECTIONS[name][0] for name in KINDS[kind]}
    references, definitions = _definitions(set(models.values()))
    properties = {}
    for name, model in models.items():
        written = {"$ref": references[model]} if name in SINGLE else _named(references[model])
        properties[name] = {**written, "description": SECTIONS[name][1]}
        if own and name != "book":
            _loosen(definitions[model.__name__], off=name in _SWITCHED)
    required = ["book"] if own and kind == "book" else [] if own else [n for n in models if n not in _MAY_LACK]
    what = "a book that inherits: what differs from the shipped one, and nothing else" if own else "a whole book"
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{kind}.toml of {what}" if kind != "criterion" else f"the file of a criterion of {what}",
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
        "$defs": definitions,
    }


def _eye_words() -> dict[str, Any]:
    references, definitions = _definitions({EyeWord})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "eye_words.toml of a whole book of the first contract",
        "type": "object",
        "additionalProperties": _named(references[EyeWord]) | {"description": "The words of one quantity."},
        "$defs": definitions,
    }


def _named(reference: str) -> dict[str, Any]:
    return {"type": "object", "additionalProperties": {"$ref": reference}}


def _definitions(models: set[type[BaseModel]]) -> tuple[dict[type[BaseModel], str], dict[str, Any]]:
    """Where each model stands, and the definitions of all with their keys described; TOML has no null."""
    ordered = sorted(models, key=lambda model: model.__name__)
    made, whole = models_json_schema([(model, "validation") for model in ordered], by_alias=True)
    definitions = whole["$defs"]
    for model in _all_of(ordered):
        texts, properties = texts_of(model), definitions[model.__name__]["properties"]
        for name, field in model.model_fields.items():
            written = properties[field.alias or name]
            properties[field.alias or name] = _without_null(written) | {"description": texts[name]}
    return {model: made[model, "validation"]["$ref"] for model in ordered}, definitions


def _all_of(models: list[type[BaseModel]]) -> Iterator[type[BaseModel]]:
    """The models, and those that their keys are made of."""
    seen: set[type[BaseModel]] = set()
    waiting: list[Any] = list(models)
    while waiting:
        kind = waiting.pop()
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            if kind not in seen:
                seen.add(kind)
                yield kind
                waiting += [field.annotation for field in kind.model_fields.values()]
        else:
            waiting += getattr(kind, "__args__", ())


def _without_null(written: dict[str, Any]) -> dict[str, Any]:
    written = {key: value for key, value in written.items() if key not in {"title", "default"}}
    choices = [choice for choice in written.pop("anyOf", ()) if choice != {"type": "null"}]
    if len(choices) == 1:
        return {**choices[0], **written}
    return written | ({"anyOf": choices} if choices else {})


def _loosen(definition: dict[str, Any], *, off: bool) -> None:
    """A record that is laid over another has only what differs."""
    definition.pop("required", None)
    if off:
        definition["properties"]["off"] = _OFF


def _write() -> None:
    for path, schema in schemas():
        file = (FOLDER / path).with_suffix(".json")
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(schema, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    _write()
