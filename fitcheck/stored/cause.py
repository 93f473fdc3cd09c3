"""Why a regraded finding differs: by a reading that was not there, by how it is measured, or by the rulebook alone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal, get_args

from fitcheck.assessment.models import Assessment, Finding
from fitcheck.rulebooks.compare import FindingChange

__all__ = ["CAUSES", "Cause", "cause_of"]

Cause = Literal["field", "measure", "book"]
"""``field``: one answer alone has the reading, whose field or measure the other's rulebook does not know.  ``measure``:
both have it, with another value or uncertainty.  ``book``: both have it alike, and the rulebook judges otherwise.
"""
CAUSES: Final[tuple[Cause, ...]] = get_args(Cause)
_Key = tuple[str, str]


def cause_of(change: FindingChange, old: Assessment, new: Assessment) -> Cause:
    """Why the finding differs between the answers; of a joined one, of all that it rests on."""
    known = [_readings(each) for each in (old, new)]
    keys = {key for each, answer in ((change.before, old), (change.after, new)) for key in _looks_at(each, answer)}
    if any(key not in readings for key in keys for readings in known):
        return "field"
    pairs = ([readings[key] for readings in known] for key in keys)
    return "measure" if any(None not in pair and pair[0] != pair[1] for pair in pairs) else "book"


def _readings(answer: Assessment) -> dict[_Key, tuple[float, float | None] | None]:
    """What the answer read, by quantity and place: value and uncertainty, or None for a word."""
    found: dict[_Key, tuple[float, float | None] | None] = {}
    for each in answer.conforms:
        found[each.quantity, each.place] = None
    for finding in answer.findings:
        if finding.measured is not None:
            found[finding.measured.quantity, finding.place] = None
    for one in answer.measurements:
        found[one.quantity, one.place] = one.value, one.u
    return found


def _looks_at(finding: Finding | None, answer: Assessment) -> Iterator[_Key]:
    """The readings that a finding of ``answer`` is about."""
    if finding is None:
        return
    if finding.measured is not None:
        yield finding.measured.quantity, finding.place
    findings = {each.id: each for each in answer.findings}
    for name in finding.rests_on:
        quantity, _, place = name.partition("@")
        if name in findings:
            yield from _looks_at(findings[name], answer)
        else:
            yield quantity, place
