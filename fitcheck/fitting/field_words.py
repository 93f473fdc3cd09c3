"""The words that a field of a fitting takes, read off the models."""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel

from fitcheck.fitting.input_value import InputValue
from fitcheck.fitting.models import Fitting

__all__ = ["words_at"]


def words_at(path: str) -> tuple[str, ...]:
    """The words that the field at ``path`` takes: yes and no for true and false."""
    model: Any = Fitting
    for step in path.replace("{side}", "medial").split("."):
        if not step.startswith("{"):
            model = _bare(model.model_fields[step].annotation)
    if model is bool:
        return ("yes", "no")
    return get_args(model)


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
