"""Two raters held against each other: where they agree, on what they differ most, and on which feet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from fitcheck.agreement.judgement import GRADES, JudgedGrade, Judgement, Subject, judgements_by
from fitcheck.agreement.kappa import WEIGHTS, Kappa, Weights, kappa
from fitcheck.agreement.outcome import NotComputed
from fitcheck.agreement.proportion import Share, clustered_share, share
from fitcheck.errors import BadInput, Problem

__all__ = ["WORST", "Comparison", "Difference", "OnCriterion", "compare", "every_pair", "most_disagreed"]

WORST: Final = "worst of all"
"""Stands for the criterion where the worst grade of each foot is compared, over the criteria that both judged."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A foot and criterion on which the two gave different grades."""

    subject: Subject
    criterion: str
    first: JudgedGrade
    second: JudgedGrade

    @property
    def steps(self) -> int:
        """How many grades the second is graver; below 0, milder."""
        return GRADES.index(self.second) - GRADES.index(self.first)


@dataclass(frozen=True, slots=True)
class OnCriterion:
    """How two raters agree on one criterion, over the feet on which both judged it."""

    criterion: str
    same: Share | NotComputed
    """The feet of the same grade, of those that both judged."""
    kappas: Mapping[Weights, Kappa | NotComputed]
    first_graver: int
    second_graver: int
    only_first: int
    """Feet of both on which only the first judged this criterion; they count nowhere else."""
    only_second: int

    @property
    def judged(self) -> int:
        """On how many feet both judged it."""
        return self.same.whole if isinstance(self.same, Share) else 0

    @property
    def different(self) -> Share | NotComputed:
        """The feet of different grades."""
        return share(self.same.whole - self.same.part, self.same.whole) if isinstance(self.same, Share) else self.same


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two raters over the feet that both judged."""

    first: str
    second: str
    subjects: int
    only_first: int
    """Feet that only the first judged; they count nowhere else."""
    only_second: int
    criteria: tuple[OnCriterion, ...]
    """By criterion, in the order in which they first occur."""
    worst: OnCriterion
    """Each foot's worst grade, over the criteria that both judged on it."""
    grades: Share | NotComputed
    """Equal grades of all that both gave; its interval allows for the grades of one foot going together."""
    differences: tuple[Difference, ...]
    """By criterion and foot; the widest apart first."""

    def on(self, criterion: str) -> OnCriterion | None:
        """The comparison on one criterion; None where neither judged it."""
        return next((each for each in self.criteria if each.criterion == criterion), None)


_Pair = tuple[Subject, JudgedGrade, JudgedGrade]


def compare(judgements: Iterable[Judgement], first: str, second: str) -> Comparison:
    """Hold ``first`` against ``second`` over the feet that both judged.

    Raises BadInput when the two are one rater, or when a rater judged a foot twice.
    """
    if first == second:
        detail = "One rater alone has nobody to agree with. Name two."
        raise BadInput([Problem("raters", first, "two different raters", detail)])
    everything = list(judgements)
    by_first, by_second = judgements_by(everything, first), judgements_by(everything, second)
    shared = [subject for subject in by_first if subject in by_second]
    both = [(subject, by_first[subject].grades, by_second[subject].grades) for subject in shared]
    names = list(dict.fromkeys(name for _, one, two in both for name in (*one, *two)))
    of_foot: dict[Subject, list[tuple[JudgedGrade, JudgedGrade]]] = {}
    criteria, differences = [], []
    for name in names:
        pairs, only = [], [0, 0]
        for subject, one, two in both:
            match one.get(name), two.get(name):
                case (None, None):
                    continue
                case (_, None):
                    only[0] += 1
                case (None, _):
                    only[1] += 1
                case (str() as this, str() as that):
                    pairs.append((subject, this, that))
                    of_foot.setdefault(subject, []).append((this, that))
        criteria.append(_on(name, pairs, only))
        differences += [Difference(subject, name, this, that) for subject, this, that in pairs if this != that]
    worst = [
        (subject, *(max(grades, key=GRADES.index) for grades in zip(*pairs, strict=True)))
        for subject, pairs in of_foot.items()
    ]
    return Comparison(
        first=first,
        second=second,
        subjects=len(shared),
        only_first=len(by_first) - len(shared),
        only_second=len(by_second) - len(shared),
        criteria=tuple(criteria),
        worst=_on(WORST, [(subject, one, two) for subject, one, two in worst], [0, 0]),
        grades=clustered_share([(sum(one == two for one, two in grades), len(grades)) for grades in of_foot.values()]),
        differences=tuple(sorted(differences, key=lambda each: -abs(each.steps))),
    )


def every_pair(judgements: Iterable[Judgement]) -> tuple[Comparison, ...]:
    """Every two raters that judged at least one foot in common, in the order in which they first occur.

    Raises BadInput when a rater judged a foot twice.
    """
    everything = list(judgements)
    raters = dict.fromkeys(each.rater for each in everything)
    pairs = (compare(everything, first, second) for first, second in combinations(raters, 2))
    return tuple(pair for pair in pairs if pair.subjects)


def most_disagreed(comparison: Comparison) -> tuple[OnCriterion, ...]:
    """The criteria that both judged, by the share of feet on which they differ, the largest first.

    Equal shares stand by name.  Where the intervals of ``different`` overlap, which of two comes first is not settled.
    """
    judged = [(each, each.different) for each in comparison.criteria]
    ranked = [(-part.value, each.criterion, each) for each, part in judged if isinstance(part, Share)]
    return tuple(each for _, _, each in sorted(ranked, key=lambda row: row[:2]))


def _on(criterion: str, pairs: Sequence[_Pair], only: Sequence[int]) -> OnCriterion:
    first = [GRADES.index(one) for _, one, _ in pairs]
    second = [GRADES.index(two) for _, _, two in pairs]
    apart = [two - one for one, two in zip(first, second, strict=True)]
    same = share(apart.count(0), len(apart))
    return OnCriterion(
        criterion=criterion,
        same=same if isinstance(same, Share) else NotComputed("no_common_foot"),
        kappas={weights: kappa(first, second, len(GRADES), weights) for weights in WEIGHTS},
        first_graver=sum(steps < 0 for steps in apart),
        second_graver=sum(steps > 0 for steps in apart),
        only_first=only[0],
        only_second=only[1],
    )
