"""Whole feet written as what differs from a good one, and what a farrier expects the tool to find on them.

``cases/handbook/good_feet.toml`` has the good feet; each names the foot that it is ``like``.  A change is laid over
that foot key by key; ``nail`` and ``hole`` change one of a list by its name ``branch:number``, ``drawn`` takes nails
out and ``without`` takes out fields by their dotted path.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import Field

from fitcheck.assessment.models import Assessment, Finding
from tests.support.limit_cases import Strict
from tests.support.paths import ROOT

__all__ = ["HANDBOOK", "Changes", "Expectation", "Expected", "disagreements", "good_foot", "lines_of"]

HANDBOOK: Final = ROOT / "tests" / "cases" / "handbook"
"""The folder of the feet that are written from the handbooks."""

Grade = Literal["minor", "major", "critical"]


class Changes(Strict):
    """What differs from the foot that it is ``like``."""

    like: str | None = None
    fitting: dict[str, Any] = Field(default_factory=dict)
    nail: dict[str, dict[str, Any]] = Field(default_factory=dict)
    hole: dict[str, dict[str, Any]] = Field(default_factory=dict)
    drawn: list[str] = Field(default_factory=list)
    without: list[str] = Field(default_factory=list)

    def applied(self) -> dict[str, Any]:
        """The whole fitting in the contract's JSON."""
        whole = good_foot(self.like) if self.like else {}
        _lay_over(whole, self.fitting)
        nails = whole.get("observations", {}).get("nails", [])
        for items, changes in ((nails, self.nail), (whole.get("shoe", {}).get("holes", []), self.hole)):
            for name, change in changes.items():
                _named(items, name).update(copy.deepcopy(change))
        for name in self.drawn:
            nails.remove(_named(nails, name))
        for path in self.without:
            *parents, last = path.split(".")
            here: Any = whole
            for step in parents:
                here = _named(here, step) if ":" in step else here[step]
            del here[last]
        return whole


def _lay_over(whole: dict[str, Any], change: Mapping[str, Any]) -> None:
    for key, value in change.items():
        if isinstance(value, Mapping) and isinstance(whole.get(key), dict):
            _lay_over(whole[key], value)
        else:
            whole[key] = copy.deepcopy(value)


def _named(items: list[dict[str, Any]], name: str) -> dict[str, Any]:
    branch, _, number = name.partition(":")
    found = [item for item in items if (item["branch"], item["hole"]) == (branch, int(number))]
    if len(found) != 1:
        raise ValueError(f"{name}: there is no such nail or hole to change")
    return found[0]


@cache
def _good_feet() -> Mapping[str, Changes]:
    document = tomllib.loads((HANDBOOK / "good_feet.toml").read_text(encoding="utf-8"))
    return {name: Changes.model_validate(changes) for name, changes in document.items()}


def good_foot(name: str) -> dict[str, Any]:
    """One of the good feet as a fitting in the contract's JSON, the caller's own copy."""
    return _good_feet()[name].applied()


class Expected(Strict):
    """A finding that is, or with every key that is given must not be, among those of an assessment."""

    criterion: str | None = None
    place: str | None = None
    quantity: str | None = None
    grade: Grade | None = None
    word: str | None = None
    blocks: bool | None = None
    joined: bool | None = None
    """Whether it is a joined finding, which rests on others."""

    def means(self, finding: Finding) -> bool:
        """Whether ``finding`` is the one that is meant."""
        measured = finding.measured
        found = {
            "criterion": finding.criterion,
            "place": finding.place,
            "quantity": measured and measured.quantity,
            "grade": finding.grade,
            "word": measured and measured.value,
            "blocks": finding.blocks,
            "joined": bool(finding.rests_on),
        }
        return all(found[key] == wanted for key, wanted in self.model_dump(exclude_none=True).items())


class Expectation(Strict):
    """What is expected of the assessment of a foot.

    Every finding of ``find`` is there, none of ``never``.  No other major or critical finding is there but a joined
    one; where the work stops that holds for critical ones alone.  With ``only`` no other finding is there at all.
    """

    decision: Literal["go_on", "release", "put_right", "stop_and_refer", "incomplete"]
    next: Literal["shoe", "nail_on", "clinch_and_finish"] | None = None
    find: list[Expected] = Field(default_factory=list)
    never: list[Expected] = Field(default_factory=list)
    only: bool = False
    needed: list[str] = Field(default_factory=list)
    """Fields that are still needed."""


def disagreements(expected: Expectation, assessment: Assessment) -> list[str]:
    """In what the assessment is not what is expected; empty where it is."""
    return [*_decided(expected, assessment), *_found(expected, assessment)]


def _decided(expected: Expectation, assessment: Assessment) -> Iterator[str]:
    if assessment.decision != expected.decision:
        yield f"decision: {assessment.decision}, expected {expected.decision}"
    if expected.next is not None and assessment.next != expected.next:
        yield f"next: {assessment.next}, expected {expected.next}"
    fields = {needed.field for needed in assessment.still_needed}
    yield from (f"still needed: not {field}" for field in expected.needed if field not in fields)


def _found(expected: Expectation, assessment: Assessment) -> Iterator[str]:
    findings = assessment.findings
    for wanted in expected.find:
        if not any(wanted.means(finding) for finding in findings):
            yield f"not found: {wanted.model_dump(exclude_none=True)}"
    for unwanted in expected.never:
        yield from (f"found: {finding.id}, expected never" for finding in findings if unwanted.means(finding))
    for finding in findings:
        listed = any(wanted.means(finding) for wanted in expected.find)
        let_pass = {"minor", "major"} if expected.decision == "stop_and_refer" else {"minor"}
        if not listed and (expected.only or (not finding.rests_on and finding.grade not in let_pass)):
            yield f"found besides: {finding.id} ({finding.grade})"


def lines_of(path: Path) -> list[str]:
    """The lines of a text file that say something; those that begin with # do not."""
    lines: Iterable[str] = path.read_text(encoding="utf-8").splitlines()
    return [line.strip() for line in lines if line.strip() and not line.startswith("#")]
