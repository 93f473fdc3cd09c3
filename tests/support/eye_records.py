"""Kept assessments with words of the eye and with measures, as a yard would send them; everybody is invented."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from fitcheck.assessment.assess import assess
from fitcheck.assessment.following import follow
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Store, draft_of
from fitcheck.stored.followed import followed
from rules import shipped_rulebook
from tests.support.simulated_eyes import WORDS, Person, yard

__all__ = ["keep", "keep_looks", "of_a_heel"]


def of_a_heel(width: Any, side: str = "medial", **more: Any) -> dict[str, Any]:
    """A fitting of one heel alone, at the trial."""
    return {
        "foot": "left_fore",
        "stage": "hot_fit",
        "work": "harness",
        "horse": {"id": "H-1"},
        "visit": "2026-03-04-H-1",
        "observations": {"heel_fit": {side: {"width": width}}},
    } | more


def keep(
    store: Store,
    document: dict[str, Any],
    person: str | None = None,
    *,
    assessor: str | None = None,
    corrects: str | None = None,
    day: str | None = None,
) -> str:
    """Assess and keep a fitting that somebody read; returns the id of the assessment."""
    document = document | {
        name: {"id": who} for name, who in (("person", person), ("assessor", assessor)) if who is not None
    }
    if day is not None:
        observations = document["observations"]
        document = document | {"observations": observations | {"history": {"fitted": day}}}
    if "follows" in document:
        before = followed(store, document["follows"], shipped_rulebook())
        following = follow(document, before)
        fitting, assessment = following.fitting, assess(following)
    else:
        fitting = parse_fitting(document)
        assessment = assess(fitting)
    store.keep(draft_of(json.dumps(document).encode(), fitting, assessment, corrects=corrects))
    return assessment.id


def keep_looks(
    store: Store,
    who: str,
    person: Person,
    count: int,
    seed: int,
    *,
    assessor: str = "S-1",
    day_of: Callable[[int], str] = lambda number: f"2026-{1 + number // 28 % 12:02}-{1 + number % 28:02}",
) -> None:
    """So many words of a simulated person, each measured by an assessor; every horse is a visit of its own."""
    horses: dict[str, int] = {}
    feet = ("left_fore", "right_fore", "left_hind", "right_hind")
    for seen in yard(person, count, seed):
        at = horses[seen.horse] = horses.get(seen.horse, -1) + 1
        number = len(horses)
        foot, side = feet[at // 2 % 4], ("medial", "lateral")[at % 2]
        name = seen.horse.replace(" ", "-")
        about = {"foot": foot, "horse": {"id": name}, "visit": f"{seed}-{name}"}
        day = day_of(number)
        measured = {"value": round(seen.measured, 3), "u": seen.u}
        keep(store, of_a_heel(WORDS[seen.word], side, **about), who, day=day)
        keep(store, of_a_heel(measured, side, **about), who, assessor=assessor, day=day)
