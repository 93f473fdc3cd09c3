"""The words that a field of a fitting takes, read off the models."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel

from fitcheck.fitting.input_value import InputValue, OfQuantity
from fitcheck.fitting.models import Fitting

__all__ = ["eye_words_at", "words_at"]


def words_at(path: str) -> tuple[str, ...]:
    """The words that the field at ``path`` takes: yes and no for true and false."""
    model = _bare(_annotation_at(path))
    if model is bool:
        return ("yes", "no")
    return get_args(model)


def eye_words_at(path: str) -> tuple[str, ...]:
    """The words of the eye that the number at ``path`` takes in any book."""
    return next((each.words for each in _metadata(_annotation_at(path)) if isinstance(each, OfQuantity)), ())


def _annotation_at(path: str) -> Any:
    model: Any = Fitting
    annotation: Any = None
    for step in path.replace("{side}", "medial").split("."):
        # What lies under an own key, such as a place, is of the mapping's type.
        if not step.startswith("{") and isinstance(model, type) and issubclass(model, BaseModel):
            field = model.model_fields[step]
            annotation = Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation
            model = _bare(annotation)
    return annotation


def _metadata(annotation: Any) -> Iterator[Any]:
    yield from getattr(annotation, "__metadata__", ())
    for inner in get_args(annotation):
        yield from _metadata(inner)


def _bare(annotation: Any) -> Any:
    """A field's type without what surrounds it: None, a list, a mapping."""
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if isinstance(annotation, type) and issubclass(annotation, (BaseModel, InputValue, bool)):
        return annotation
    if get_origin(annotation) is Literal:
        return annotation
    inner = [part for part in get_args(annotation) if part is not type(None)]
    return _bare(inner[-1 if get_origin(annotation) is dict else 0])
