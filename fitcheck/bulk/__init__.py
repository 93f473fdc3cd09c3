"""Very many fittings: the work cut into parts that any engine can do, on one process or on a cluster.

``assess_part`` and ``regrade_part`` are plain functions of values that can be sent to another machine; whatever runs
them, in whatever order and number, the answers are the same.  ``in_order`` runs them here or on a Dask cluster.
"""

from __future__ import annotations

from fitcheck.bulk.cluster import Cluster, ClusterLost, in_order
from fitcheck.bulk.parts import (
    BookName,
    LinePart,
    OtherRulebook,
    RecordPart,
    assess_part,
    line_parts,
    record_parts,
    regrade_part,
)

__all__ = [
    "BookName",
    "Cluster",
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
