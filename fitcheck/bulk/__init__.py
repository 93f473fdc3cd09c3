"""Very many fittings: the work cut into parts that any engine can do, on one process or on a cluster.

``assess_part`` and ``regrade_part`` are plain functions of values that can be sent to another machine; whatever runs
them, in whatever order and number, the answers are the same.  ``in_order`` runs them here, or on the Dask cluster
of ``fitcheck.bulk.cluster``, which needs the extra of that name.
"""

from __future__ import annotations

from fitcheck.bulk.errors import ClusterLost, OtherRulebook
from fitcheck.bulk.parts import (
    BookName,
    LinePart,
    RecordPart,
    assess_part,
    in_order,
    line_parts,
    record_parts,
    regrade_part,
)

__all__ = [
    "BookName",
    "ClusterLost",
    "LinePart",
    "OtherRulebook",
    "RecordPart",
    "assess_part",
    "in_order",
    "line_parts",
    "record_parts",
    "regrade_part",
]
