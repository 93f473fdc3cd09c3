"""Assessments to mark: what the tool says of a good foot, with findings put in by hand."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Finding
from fitcheck.fitting.models import Fitting
from fitcheck.marking.apply_overrides import override_of
from fitcheck.marking.overrides import Override, parse_override
from rules import first_rulebook
from rules.model.records import Grade
from tests.support.paths import ROOT

__all__ = ["BOOK", "SINGLES", "assessed", "finding", "overridden"]

BOOK = first_rulebook()
GOOD = ROOT / "cases_demo" / "good-draught-fore.json"
SINGLES = {
    "heel_fit": ("heel-width-close", "heel-width-tight"),
    "toe_fit": ("toe-full", "toe-over"),
    "levelness": ("seat-gap", "seat-gap-open"),
    "nails": ("nail-low", "nail-high"),
    "finish": ("surface-rough", "surface-rough"),
}
"""Of some criteria, a rule for minor findings and one for major ones; grades are given with each finding anyway."""


@cache
def _said(**edits: str) -> str:
    fitting = json.loads(GOOD.read_text(encoding="utf-8"))
    if edits.get("stage") == "hot_fit":
        fitting["observations"] = {
            name: fitting["observations"][name] for name in ("heel_fit", "toe_fit", "levelness", "scorch")
        }
    if edits.get("fitted") == "cold":
        fitting["hot_fitted"] = False
        del fitting["observations"]["scorch"]
    if "without" in edits:
        del fitting["observations"][edits["without"]]
    fitting["stage"] = edits.get("stage", "finished")
    return assess(Fitting.model_validate(fitting), BOOK).model_dump_json()


def assessed(*findings: Finding, decision: str = "release", **edits: str) -> Assessment:
    """A good foot's assessment with these findings and this decision.

    ``stage``; ``fitted="cold"``; ``without`` names an observation that was not made; ``id`` and ``created``.
    """
    named: dict[str, Any] = {key: edits.pop(key) for key in ("id", "created", "foot") if key in edits}
    return Assessment.model_validate(
        {**json.loads(_said(**edits)), "findings": findings, "decision": decision, **named}
    )


def finding(criterion: str, grade: Grade, place: str = "foot", *, rule: str = "", on: tuple[str, ...] = ()) -> Finding:
    """A finding of that criterion and grade; ``on`` are the ids that it rests on, where it joins others."""
    name = rule or SINGLES[criterion][grade != "minor"]
    return Finding(
        id=f"{name}@{place}",
        rule=name,
        criterion=criterion,
        place=place,
        grade=grade,
        confidence=1.0,
        measured=None,
        limit=None,
        finding=f"Found at {place}.",
        action="",
        amount=None,
        order="iron",
        caution="",
        rests_on=on,
        status="common practice",
        why="",
        sources=(),
    )


def overridden(
    assessment: Assessment, *changes: dict[str, Any], by: str = "S-1", earlier: tuple[Override, ...] = ()
) -> Override:
    """The override of ``assessment`` with these changes; each has a reason, unless it gives one."""
    asked = {
        "about": assessment.id,
        "assessor": {"id": by},
        "changes": [{"reason": "Looked at it twice.", **change} for change in changes],
    }
    return override_of(parse_override(asked), assessment, BOOK, earlier=earlier)
