"""Faults along the number line: findings that say the same twice, a lesser one beyond a graver, nothing left good.

A limit fires on all that lies past it, so going outwards on one side findings never stop again: where the gravest rule
that a reading passes is in force, it fires.  What can go wrong instead is that two fire at once, that a lesser limit
lies past a graver one and adds nothing, and that the sides meet so that no reading is let pass.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations

from rules.analysis.contexts import context_text
from rules.analysis.fault import Fault
from rules.analysis.intervals import IntervalSet, Point
from rules.model.records import RANK
from rules.rulebook import Rulebook

__all__ = ["bands", "shown"]


def bands(book: Rulebook, interval_sets: Iterable[IntervalSet]) -> Iterator[Fault]:
    """Every fault of the bands in ``interval_sets``, each pair of rules and each quantity once."""
    pairs: dict[tuple[str, str], _Pair] = {}
    full: set[str] = set()
    for interval_set in interval_sets:
        for point in interval_set.points:
            fired = interval_set.fired(point)
            for one, other in combinations(sorted(fired, key=lambda name: RANK[book.rules[name].grade]), 2):
                pairs.setdefault((one, other), _Pair(book, one, other, interval_set, point))
        if interval_set.quantity not in full and not interval_set.words:
            blocked = _nothing_good(interval_set)
            if blocked is not None:
                full.add(interval_set.quantity)
                yield blocked
    yield from (pair.fault() for pair in pairs.values())


class _Pair:
    """Two rules that fire on one reading, the lesser first."""

    def __init__(self, book: Rulebook, lesser: str, graver: str, interval_set: IntervalSet, point: Point) -> None:
        self._book = book
        self._lesser = lesser
        self._graver = graver
        self._interval_set = interval_set
        self._point = point

    def fault(self) -> Fault:
        lesser, graver = self._book.rules[self._lesser], self._book.rules[self._graver]
        key = f"rules.{self._lesser}"
        where = f"({context_text(self._interval_set.situation)})"
        if lesser.grade == graver.grade:
            order = list(self._book.rules)
            earlier, later = sorted((self._lesser, self._graver), key=order.index)
            return self._fault(
                f"rules.{later}.{self._end(later)}",
                "overlap",
                f"it fires on readings on which {earlier!r} does, both {lesser.grade}, such as {self._shown} {where}",
                "Move one of the two limits, or narrow one of the two with applies or places",
            )
        if self._always_inside():
            return self._fault(
                f"{key}.{self._end(self._lesser)}",
                "lesser-beyond-graver",
                f"this {lesser.grade} limit lies beyond that of {self._graver!r}, which is {graver.grade}: "
                f"both fire, such as on {self._shown} {where}",
                f"Put the limit nearer to the good readings than that of {self._graver!r}",
            )
        return self._fault(
            f"{key}.unless",
            "overlap",
            f"it fires on readings on which the graver {self._graver!r} does, such as {self._shown} {where}",
            f"Add {self._graver!r} to unless",
        )

    def _fault(self, key: str, kind: str, message: str, remedy: str) -> Fault:
        file = self._book.files[key.split(".")[1]]
        return Fault(file, key, kind, message, remedy, self._interval_set.example(self._point))

    @property
    def _shown(self) -> str:
        return shown(self._interval_set, self._point)

    def _end(self, rule_id: str) -> str:
        if isinstance(self._point.value, str):
            return "is"
        return self._interval_set.zones[rule_id].end(self._point.value, self._point.sizes) or "low"

    def _always_inside(self) -> bool:
        """Whether the lesser rule never fires alone here."""
        return not any(
            self._lesser in fired and self._graver not in fired
            for fired in map(self._interval_set.fired, self._interval_set.points)
        )


def _nothing_good(interval_set: IntervalSet) -> Fault | None:
    """The fault of a lane in which, for some sizes, every reading is a finding."""
    book, quantity = interval_set.book, interval_set.quantity
    for sizes in interval_set.sizes:
        points = interval_set.points_for(sizes)
        fired = [interval_set.fired(point) for point in points]
        if not all(fired):
            continue
        mildest = min(
            range(len(points)), key=lambda number: max(RANK[book.rules[name].grade] for name in fired[number])
        )
        names = ", ".join(dict.fromkeys(name for each in fired for name in each))
        return Fault(
            book.files[quantity],
            f"quantities.{quantity}",
            "nothing-good",
            f"every reading is a finding ({context_text(interval_set.situation)}): {names} leave none to be let pass",
            "Take a word out of is" if isinstance(points[mildest].value, str) else "Move the limits apart",
            interval_set.example(points[mildest]),
        )
    return None


def shown(interval_set: IntervalSet, point: Point) -> str:
    """A reading in words for a message, with the sizes that its limits follow."""
    value = point.value if isinstance(point.value, str) else f"{float(point.value):g}"
    unit = interval_set.book.quantities[interval_set.quantity].unit
    sizes = "".join(f", {name} {float(size):g}" for name, size in point.sizes.items())
    words = "".join(f", {name} {word}" for name, word in interval_set.words.items())
    return f"{interval_set.quantity} {value}{f' {unit}' if unit and unit != '1' else ''}{sizes}{words}"
