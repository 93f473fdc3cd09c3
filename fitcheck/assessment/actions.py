"""What to do, in working order: welfare, iron, foot, nails, finish."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from fitcheck.assessment.models import Finding
from rules import Rulebook
from rules.model import Stage

__all__ = ["working_order"]

_ORDER: Final = ("welfare", "iron", "foot", "nails", "finish")
_DRAW: Final = "draw_nails"
_AFTER_STOP: Final = "after_stop"


def working_order(findings: Iterable[Finding], stage: Stage, book: Rulebook) -> tuple[str, ...]:
    """The actions of the major and critical findings in working order, each sentence once.

    Stop means stop: with a critical finding only the welfare of the horse is acted on, and the rest waits.  Minor
    findings are noted, not acted on.  A joined finding may stand in the stead of others.  Once nails are in, they are
    drawn before anything that needs the shoe off.
    """
    acting = [finding for finding in findings if finding.grade != "minor"]
    stop_cautions = [finding for finding in acting if finding.grade == "critical"]
    if stop_cautions:
        texts = [finding.action for finding in stop_cautions]
        return (*dict.fromkeys(texts), book.steps[_AFTER_STOP].text)
    replaced = set[str]()
    for finding in acting:
        joined = book.joined.get(finding.rule)
        if joined is not None and joined.replaces_actions:
            replaced.update(finding.rests_on, (other.id for other in acting if other.rule in joined.replaces))
    acting = [finding for finding in acting if finding.id not in replaced]
    steps = [(_ORDER.index(finding.order), _before_others(finding, book), finding.action) for finding in acting]
    if stage != "hot_fit" and any(book.remedy(finding.rule).shoe_off for finding in acting):
        draw = book.steps[_DRAW]
        steps.append((_ORDER.index(draw.order), -1, draw.text))
    steps.sort(key=lambda step: step[:2])
    return tuple(dict.fromkeys(text for _, _, text in steps))


def _before_others(finding: Finding, book: Rulebook) -> int:
    """Joined findings come first within their part of the work: they say how to go about the single ones."""
    return 0 if finding.rule in book.joined else 1
