"""Findings as they are counted, which of one criterion are, and what they take off, in whole hundredths of a mark.

A joined finding and what it rests on are one fault, so they are never both counted: of all ways to count findings
without such a pair, the one that takes most off is taken.  So a further finding never makes a mark better, and it does
not matter in which order they come.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from fitcheck.assessment.models import Finding
from fitcheck.errors import BadInput, Problem
from rules import Rulebook, marking_of
from rules.model.records import Grade

__all__ = ["HUNDREDTHS", "Counted", "Found", "count", "found_among", "in_marks", "shown_marks"]

HUNDREDTHS: Final = 100
"""Of one mark; and percents of a whole, so that marks x percents are hundredths."""


@dataclass(frozen=True, slots=True)
class Found:
    """One finding as it is to be counted.

    ``grade_found`` is None where an assessor added it; ``parts`` are the findings that are one fault with it.
    """

    id: str
    rule: str
    criterion: str
    grade: Grade
    grade_found: Grade | None
    say: str
    parts: frozenset[str] = frozenset()

    def graded(self, grade: Grade) -> Found:
        """The same finding under another grade."""
        return replace(self, grade=grade)


def found_among(findings: Sequence[Finding], book: Rulebook) -> dict[str, Found]:
    """``findings`` by id, in their order, with what is one fault with each.

    Raises BadInput when one belongs to a criterion that ``book`` does not have.
    """
    return {each.id: _found(each, findings, book) for each in findings}


def _found(each: Finding, among: Sequence[Finding], book: Rulebook) -> Found:
    if each.criterion not in book.criteria:
        allowed = f"a finding on one of {', '.join(book.criteria)}"
        raise BadInput([Problem("findings", each.id, allowed, "Mark it by a rulebook that has this criterion.")])
    parts = frozenset[str]()
    if each.rests_on:
        joined = book.joined.get(each.rule)
        replaced = set(joined.replaces) if joined is not None and joined.replaces_actions else set[str]()
        parts = frozenset(
            other.id for other in among if other.id != each.id and (other.id in each.rests_on or other.rule in replaced)
        )
    return Found(each.id, each.rule, each.criterion, each.grade, each.grade, each.finding, parts)


@dataclass(frozen=True, slots=True)
class Counted:
    """What comes of the findings of one criterion: ``takes`` in hundredths by the id of each that is counted."""

    takes: Mapping[str, int]
    taken: int
    """All that is taken off, in hundredths: never more than the criterion has."""


def count(findings: Iterable[Found], marks: int, book: Rulebook) -> Counted:
    """Count ``findings``, of one criterion that has ``marks``, none of them critical."""
    ordered = sorted(findings, key=lambda found: found.id)
    costs = {found.id: marks * marking_of(book).deductions[found.grade].percent for found in ordered}
    takes: dict[str, int] = {}
    for group in _groups(ordered):
        takes |= {name: costs[name] for name in _dearest(group, costs)}
    return Counted(takes, min(marks * HUNDREDTHS, sum(takes.values())))


def _groups(findings: Sequence[Found]) -> Iterator[list[Found]]:
    """Findings that hang together as one fault, directly or through others."""
    left = {found.id: found for found in findings}
    beside: dict[str, set[str]] = {name: set() for name in left}
    for found in findings:
        for part in found.parts & left.keys():
            beside[found.id].add(part)
            beside[part].add(found.id)
    while left:
        reached, frontier = set[str](), {next(iter(left))}
        while frontier:
            reached |= frontier
            frontier = {other for name in frontier for other in beside[name]} - reached
        yield [left.pop(name) for name in sorted(reached)]


def _dearest(group: Sequence[Found], costs: Mapping[str, int]) -> list[str]:
    """Those of one group that are counted; where it comes to the same, not the joined ones."""
    settled, joined, singles = _settled(group, costs)
    best: tuple[int, int, list[str]] | None = None
    for chosen in _free_of_one_another(joined):
        covered = {part for found in chosen for part in found.parts}
        counted = sorted((singles - covered) | {found.id for found in chosen})
        rank = (-sum(costs[name] for name in counted), len(chosen), counted)
        best = rank if best is None or rank < best else best
    return settled + (best[2] if best else [])


def _settled(group: Sequence[Found], costs: Mapping[str, int]) -> tuple[list[str], list[Found], set[str]]:
    """The joined findings that are counted for certain; those still to be weighed; the others, but for their parts.

    One that takes no more than what is its alone is never counted; one that takes more than all of its parts always is.
    Seldom is any left, so that many joined findings cost no more time.
    """
    joined = {found.id: found for found in group if found.parts}
    singles = {found.id for found in group} - joined.keys()
    settled: list[str] = []
    waiting = list(joined)
    while waiting:
        name = waiting.pop(0)
        parts = joined[name].parts & {*singles, *joined}
        others = {part for other, found in joined.items() if other != name for part in found.parts}
        if name in others or parts & joined.keys():
            continue
        if sum(costs[part] for part in parts - others) >= costs[name]:
            del joined[name]
        elif costs[name] > sum(costs[part] for part in parts):
            settled.append(name)
            singles -= parts
            del joined[name]
        else:
            continue
        waiting = list(joined)
    return settled, list(joined.values()), singles


def _free_of_one_another(joined: Sequence[Found]) -> Iterator[list[Found]]:
    """Every set of joined findings of which none rests on another."""
    if not joined:
        yield []
        return
    first, *rest = joined
    yield from _free_of_one_another(rest)
    apart = [other for other in rest if other.id not in first.parts and first.id not in other.parts]
    for chosen in _free_of_one_another(apart):
        yield [first, *chosen]


def in_marks(hundredths: int) -> float:
    """Hundredths as marks.

    >>> in_marks(8925), in_marks(9000)
    (89.25, 90.0)
    """
    return hundredths / HUNDREDTHS


def shown_marks(hundredths: int) -> str:
    """Hundredths as marks are read out, without idle noughts.

    >>> shown_marks(8950), shown_marks(9000), shown_marks(5)
    ('89.5', '90', '0.05')
    """
    return f"{in_marks(hundredths):.2f}".rstrip("0").rstrip(".")
