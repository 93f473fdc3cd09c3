"""What is computed from the observations, each measure in a module of its own.

A measure is a function of the fitting, what was observed and the rulebook that yields further readings.  A new one
is added to :data:`MEASURES`; the rest of the tool takes its readings as it takes observed ones.  Heavy libraries are
imported only by the measures that need them, and only when their input is there.
"""

from __future__ import annotations

from fitcheck.fitting.models import Fitting
from fitcheck.measure.dates import growth_and_interval
from fitcheck.measure.differences import branch_difference, height_difference
from fitcheck.measure.disagreement import disagreements
from fitcheck.measure.growth import heel_support
from fitcheck.measure.heat import heat
from fitcheck.measure.heat_inside import heat_inside
from fitcheck.measure.levelness import levelness
from fitcheck.measure.listed import dark, holds, seen
from fitcheck.measure.nail_line import exit_ratios, nail_count, unevenness
from fitcheck.measure.nail_path import nail_path
from fitcheck.measure.outline import outline_fit
from fitcheck.measure.results import Measure, Remark
from fitcheck.measure.scorch import scorch
from fitcheck.measure.white_line import holes_against_white_line
from rules import Rulebook, Table, table_of

__all__ = ["MEASURES", "Measured", "measured"]

MEASURES: tuple[Measure, ...] = (
    outline_fit,  # before branch_difference, which takes its lengths
    branch_difference,
    height_difference,
    exit_ratios,
    unevenness,
    nail_count,
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
)
"""In order: a measure sees what those before it computed."""

Measured = tuple[Table, list[Remark]]


def measured(fitting: Fitting, stated: Table, book: Rulebook) -> Measured:
    """All readings of a fitting, observed and computed, by quantity and place, and the remarks on them.

    What is computed stands in the place of what was observed; where the two differ, a cross-check says so.  What
    ``book`` does not know is no reading.

    Raises fitcheck.errors.BadInput when a trace or a set of points cannot be measured.
    """
    table = dict(stated)
    remarks: list[Remark] = []
    replaced = False
    for measure in MEASURES:
        for result in measure(fitting, table, book):
            if isinstance(result, Remark):
                remarks.append(result)
            elif result.quantity in book.quantities:
                key = (result.quantity, result.place)
                replaced = replaced or key in stated
                table[key] = result
    if replaced:
        for key, found in table_of(disagreements(stated, table, book)).items():
            # A measure may have found two tellings of one thing further apart already.
            if key not in table or float(table[key].value) < float(found.value):
                table[key] = found
    return table, list(dict.fromkeys(remarks))
