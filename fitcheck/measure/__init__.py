"""What is computed from the observations, each measure in a module of its own.

A measure is a function of the fitting, what was observed and the rulebook that yields further readings.  A new one
is added to :data:`MEASURES`; the rest of the tool takes its readings as it takes observed ones.  Heavy libraries are
imported only by the measures that need them, and only when their input is there.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import combinations
from typing import Final

from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import ROWS
from fitcheck.fitting.readings import situation_of
from fitcheck.measure.by_eye import by_eye
from fitcheck.measure.dates import growth_and_interval
from fitcheck.measure.differences import branch_difference, height_difference
from fitcheck.measure.disagreement import DECIDING, Double, disagreements
from fitcheck.measure.dressed import angle_difference, height_ratio
from fitcheck.measure.fit import cleft_difference, past_bulbs, past_coronet, set_back, width_allowance
from fitcheck.measure.growth import heel_support
from fitcheck.measure.heat import heat
from fitcheck.measure.heat_inside import heat_inside
from fitcheck.measure.iron import calk_difference, fuller_ratio, toe_calk_excess, web_ratio, worn_share
from fitcheck.measure.levelness import levelness
from fitcheck.measure.listed import dark, holds, seen
from fitcheck.measure.nail_line import exit_ratios, nail_count, unevenness
from fitcheck.measure.nail_path import nail_path
from fitcheck.measure.nail_row import clinch_ratios, first_exit_ratios, low_share, nail_spread, rearmost, suspects
from fitcheck.measure.outline import outline_fit
from fitcheck.measure.results import Measure, Remark
from fitcheck.measure.scorch import scorch
from fitcheck.measure.white_line import holes_against_white_line
from fitcheck.measure.worse import Key, worse_of
from rules import Reading, Rulebook, Table, table_of
from rules.situation import side_of

__all__ = ["MEASURES", "ONCE", "Measured", "measured"]

MEASURES: tuple[Measure, ...] = (
    outline_fit,  # before branch_difference, which takes its lengths
    branch_difference,
    height_difference,
    width_allowance,
    past_coronet,
    past_bulbs,
    cleft_difference,
    set_back,
    angle_difference,
    height_ratio,
    exit_ratios,
    unevenness,
    nail_count,
    first_exit_ratios,
    nail_spread,
    rearmost,
    low_share,
    suspects,
    clinch_ratios,
    web_ratio,
    fuller_ratio,
    worn_share,
    calk_difference,
    toe_calk_excess,
    growth_and_interval,
    heel_support,
    levelness,
    scorch,  # after levelness, whose gaps it reads
    holds,  # before heat, which takes its colour
    heat,  # of two books one or the other
    heat_inside,
    nail_path,
    holes_against_white_line,
    seen,
    dark,
    by_eye,
)
"""In order: a measure sees what those before it computed."""

Measured = tuple[Table, list[Remark]]

ONCE: frozenset[Measure] = frozenset((outline_fit, levelness, growth_and_interval, heat_inside, by_eye))
"""Those that look at no reading that is computed: done once, whatever reading of two is looked at.

Of these the dear ones: of a foot with heights and gaps, whose readings are looked at four times, 10.0 ms and 9.1 so.
"""


def measured(fitting: Fitting, stated: Table, book: Rulebook) -> Measured:
    """All readings of a fitting, observed and computed, by quantity and place, and the remarks on them.

    Of what is both given and computed the worse counts (:mod:`fitcheck.measure.worse`), and a cross-check says how
    far they are apart; a book that knows no ``deciding_disagreement`` lets the computed one stand.  What ``book`` does
    not know is no reading.

    Raises fitcheck.errors.BadInput when a trace or a set of points cannot be measured.
    """
    run = _Run(fitting, stated, book)
    table, doubles = run.table(frozenset())
    if doubles and DECIDING in book.quantities:
        situation = situation_of(fitting, book)
        keys = [(double.given.quantity, double.given.place) for double in doubles]
        tables = [table, *(run.table(sides)[0] for sides in _choices(place for _, place in keys))]
        table, deciding = worse_of(tables, keys, situation, book)
        table = _checked(table, table_of(disagreements(doubles, deciding, book)))
    elif doubles:
        table = _checked(table, table_of(disagreements(doubles, (), book)))
    return table, list(run.remarks)


def _checked(table: Table, checks: Table) -> Table:
    """``table`` with the cross-checks; a measure may have found two tellings of one thing further apart already."""
    further = {
        key: found for key, found in checks.items() if key not in table or float(table[key].value) < float(found.value)
    }
    return table | further


def _choices(places: Iterable[str]) -> list[frozenset[str | None]]:
    """At which sides a given reading may stand, of those that have double ones, beside at none.

    What is computed from two readings, such as the difference of the branches, may take one of either kind; what lies
    on neither side goes with the medial one.
    """
    sides = sorted(side for side in {side_of(place) for place in places} if side is not None)
    free = [frozenset({side, None}) if side == "medial" else frozenset({side}) for side in sides]
    free = free or [frozenset({None})]
    return [frozenset().union(*chosen) for count in range(1, len(free) + 1) for chosen in combinations(free, count)]


_TAKEN: Final = "measures"


def _measures_for(book: Rulebook) -> tuple[Measure, ...]:
    """The measures of which ``book`` knows any reading, in order: of the first contract's rulebook 15 of 36."""
    known: tuple[Measure, ...] | None = book.derived.get(_TAKEN)
    if known is None:
        names = {row.measure for row in ROWS if row.quantity in book.quantities}
        known = book.derived[_TAKEN] = tuple(measure for measure in MEASURES if measure.__name__ in names)
    return known


class _Run:
    """The measures, taken in order once for each choice among the readings that were given twice."""

    def __init__(self, fitting: Fitting, stated: Table, book: Rulebook) -> None:
        self._fitting = fitting
        self._stated = stated
        self._book = book
        self._known: dict[Measure, tuple[Reading | Remark, ...]] = {}
        self.remarks: dict[Remark, None] = {}

    def table(self, stated_sides: Collection[str | None]) -> tuple[Table, list[Double]]:
        """All readings, where a given one stands at ``stated_sides`` and else the computed one."""
        fitting, stated, book = self._fitting, self._stated, self._book
        quantities, table = book.quantities, dict(stated)
        doubles: dict[Key, Double] = {}
        for measure in _measures_for(book):
            for result in self._once(measure) if measure in ONCE else measure(fitting, table, book):
                if isinstance(result, Remark):
                    self.remarks[result] = None
                elif result.quantity in quantities:
                    key = result[:2]
                    if key not in stated:
                        table[key] = result
                    else:
                        doubles[key] = Double(stated[key], result)
                        if side_of(result.place) not in stated_sides:
                            table[key] = result
        # In the order of what is stated; most have none: 4 us for looking through all of it.
        return table, [doubles[key] for key in stated if key in doubles] if doubles else []

    def _once(self, measure: Measure) -> Iterable[Reading | Remark]:
        if measure not in self._known:
            self._known[measure] = tuple(measure(self._fitting, self._stated, self._book))
        return self._known[measure]
