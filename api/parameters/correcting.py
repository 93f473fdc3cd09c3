"""What may correct what: the same foot of the same horse, once, and only what the client believes to correct."""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import quote

from starlette.requests import Request

from api.http.problems import ProblemError
from api.parameters.record_address import address_of, etag_of
from fitcheck.errors import Problem
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.records import AlreadyCorrected, Record

__all__ = ["already_corrected", "nothing_to_correct", "require_match", "require_same_foot"]

_CORRECTS: Final = "corrects"
"""The query parameter with the id of the assessment that is corrected."""
_IF_MATCH: Final = "if-match"
_ENTITY_TAG: Final = re.compile(r'(W/)?("[^"]*")')
_SEND_ALONE: Final = "Send this fitting without corrects, as an assessment of its own."


def require_match(request: Request, corrected: Record | None) -> None:
    """Hold If-Match, where the request has it, against the ETag or the id of what is ``corrected``.

    Raises ProblemError of kind precondition-failed where it names something else, or nothing is corrected.
    """
    header = ", ".join(request.headers.getlist(_IF_MATCH))
    if _IF_MATCH not in request.headers or (corrected is not None and header.strip() == "*"):
        return
    if corrected is None:
        allowed = "no If-Match without corrects"
        detail = "If-Match names what is to be corrected, and this request corrects nothing. Add corrects=ID."
    elif {etag_of(corrected), f'"{corrected.id}"'}.isdisjoint(_strong_tags(header)):
        allowed = f'{etag_of(corrected)} or "{corrected.id}"'
        detail = (
            f'If-Match does not name the assessment "{cut(corrected.id)}" as it is kept. '
            f"GET {address_of(corrected.id)} shows it with its ETag."
        )
    else:
        return
    raise ProblemError(
        "precondition-failed", detail, [Problem(f"header.{_IF_MATCH}", summary(header), allowed, detail)]
    )


def _strong_tags(header: str) -> list[str]:
    """The entity tags in a header, but for weak ones, which match nothing here (RFC 9110, 13.1.1)."""
    return [tag for weak, tag in _ENTITY_TAG.findall(header) if not weak]


def require_same_foot(fitting: Fitting, corrected: Record) -> None:
    """Refuse a correction of another foot or another horse; a horse may be added where none was named.

    Raises ProblemError of kind correction-of-another.
    """
    faults = []
    if fitting.foot != corrected.foot:
        faults.append(_of_another("foot", fitting.foot, str(corrected.foot)))
    horse = fitting.horse
    names = () if horse is None else (horse.id, horse.ueln, horse.transponder)
    if corrected.horse is not None and corrected.horse not in names:
        named = next((name for name in names if name is not None), None)
        faults.append(_of_another("horse", named, corrected.horse))
    if faults:
        raise ProblemError("correction-of-another", f"{faults[0].field}: {faults[0].detail}", faults)


def _of_another(what: str, value: str | None, stored: str) -> Problem:
    found = f"this one of {value}" if value is not None else f"this one names no {what}"
    detail = f"The assessment to be corrected is of {stored}, {found}. Correct one of the same {what}. {_SEND_ALONE}"
    return Problem(what, value, stored, detail)


def already_corrected(error: AlreadyCorrected) -> ProblemError:
    """The problem of a second correction of one assessment."""
    detail = (
        f'The assessment "{cut(error.id)}" was corrected already, by "{error.by}". Correct that one: look at '
        f"{address_of(error.by)}, then send this with corrects={quote(error.by, safe='')}."
    )
    return ProblemError("already-corrected", detail, [Problem(f"query.{_CORRECTS}", error.id, error.by, detail)])


def nothing_to_correct(corrects: str, why: str) -> ProblemError:
    """The problem of a correction of what is not there."""
    detail = f'Nothing to correct by the id "{cut(corrects)}": {why}'
    fault = Problem(f"query.{_CORRECTS}", summary(corrects), "the id of an assessment in GET /v1/assessments", detail)
    return ProblemError("unknown-correction", detail, [fault])
