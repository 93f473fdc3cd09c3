"""The kept assessment that a fitting follows."""

from __future__ import annotations

from typing import Any

from fitcheck.assessment.following import Followed
from fitcheck.errors import BadInput, FitcheckError
from fitcheck.fitting.strict_json import loads
from fitcheck.records import Store
from fitcheck.stored.assessment import Unreadable, foot_of
from rules import Rulebook

__all__ = ["UnknownFollowed", "followed", "follows_in"]


class UnknownFollowed(FitcheckError):
    """No assessment of that ``id`` can be followed; the text says why."""

    def __init__(self, id_: str, why: str) -> None:
        self.id = id_
        super().__init__(why)


def follows_in(raw: bytes) -> str | None:
    """The id of the assessment that the fitting in the JSON of ``raw`` follows; None where it says none that can be.

    Costs next to nothing where there is none. What is wrong in ``raw`` is told when it is read as a fitting.
    """
    # A key may be written with escapes.
    if b"follows" not in raw and b"\\u" not in raw:
        return None
    try:
        document: Any = loads(raw)
    except BadInput:
        return None
    id_ = document.get("follows") if isinstance(document, dict) else None
    return id_ if isinstance(id_, str) else None


def followed(store: Store, id_: str, book: Rulebook) -> Followed:
    """The assessment that is kept by that id, with its fitting as it was judged; ``book`` as in ``foot_of``.

    Raises UnknownFollowed where there is none, it was erased, is not read here, or no longer counts; and StoreError.
    """
    record = store.record(id_)
    if record is None or record.kind != "assessment":
        raise UnknownFollowed(id_, "There is no such assessment here.")
    if record.erased:
        raise UnknownFollowed(id_, "That assessment was erased.")
    if corrections := store.corrections_of([id_]).get(id_):
        raise UnknownFollowed(id_, f'That assessment was corrected, by "{corrections[-1]}": follow that one.')
    try:
        foot = foot_of(record, book)
    except Unreadable as error:
        raise UnknownFollowed(id_, "That assessment was kept in a form that is not read here.") from error
    return Followed(foot.fitting, foot.assessment)
