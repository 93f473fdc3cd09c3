"""An assessment in short: its media type, and how it is documented."""

from __future__ import annotations

from contextlib import suppress
from typing import Any, Final

from api.assessing import BRIEF_TYPE
from api.openapi.examples import EXAMPLES, answer_to
from api.openapi.operation import Content
from fitcheck.assessment.brief import BriefAssessment, brief_of
from fitcheck.errors import BadInput
from rules import Rulebook

__all__ = ["BRIEF"]


def _examples(book: Rulebook) -> dict[str, Any]:
    shown: dict[str, Any] = {}
    for example in EXAMPLES:
        # A book with narrower ranges may not take it.
        with suppress(BadInput):
            value = brief_of(answer_to(example, book), book).model_dump(mode="json")
            shown[example.name] = {"summary": example.summary, "value": value}
    return shown


BRIEF: Final = Content((BriefAssessment,), BRIEF_TYPE, _examples)
"""What view=brief is answered with."""
