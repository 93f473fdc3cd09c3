"""The eye that a request names: whose words they are, and by which version of that eye chances are told."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

from pydantic import Field

from api.http.problems import ProblemError
from api.parameters.query import not_too_many, refuse
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput
from fitcheck.eye.models import EyeView
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.models import Fitting
from fitcheck.records import Store
from rules import Rulebook
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.eye.eye import stored_eye
    from fitcheck.eye.stated import with_eye
else:
    stored_eye = lazily("fitcheck.eye.eye", "stored_eye")
    with_eye = lazily("fitcheck.eye.stated", "with_eye")

__all__ = ["EyeName", "beside_eye", "eye_of_query"]

EyeName = Annotated[
    Identifier | None,
    Field(
        description="Whose eye says how likely each finding on a word is: the id of the person whose words they are, "
        "also with the version of that eye that must be at hand, as A-3@4a8f5a15d240cc45. It changes nothing that is "
        "found or decided.",
    ),
]
"""The query parameter."""


async def eye_of_query(
    name: str | None, read: Callable[[Callable[[Store], EyeView]], Awaitable[EyeView]], book: Rulebook
) -> EyeView | None:
    """The eye of that ``name``, as records tell it now; None where there is no name.

    Raises ProblemError of kind bad-query where nothing is known of it, or another version is at hand; and StoreError.
    """
    if name is None:
        return None
    person, _, version = name.partition("@")

    def view_of(store: Store) -> EyeView:
        with not_too_many():
            return stored_eye(store, person, book, brief=True)

    view = await read(view_of)
    if not view.pairs:
        detail = "No words of that person stand beside a measure: nothing is known of that eye. Leave eye out."
        refuse("eye", name, "a person of whom GET /v1/people/{person}/eye has pairs", detail)
    if version and version != view.version:
        detail = "More is known of that eye by now, or less. Name the version of now, or none."
        refuse("eye", name, f"{person}@{view.version}", detail)
    return view


def beside_eye(assessment: Assessment, fitting: Fitting, view: EyeView | None, book: Rulebook) -> Assessment:
    """The ``assessment`` with the chances by the eye of ``view``; as it is without one.

    Raises ProblemError of kind bad-query where the words are those of somebody else.
    """
    if view is None:
        return assessment
    try:
        return with_eye(assessment, fitting, view, book)
    except BadInput as error:
        first = error.problems[0]
        detail = f"The query of this address is wrong: {first.detail}"
        raise ProblemError("bad-query", detail, [replace(first, field="query.eye")]) from None
