"""Two feet of one horse held together: the left fore against the right, or the left hind against the right.

A pair never releases a foot; it adds what neither foot shows alone.  What is compared stands in
``fitcheck.fitting.observables.PAIR_ROWS``, the limits in ``rules/book/pair.toml``.
"""

from fitcheck.pairs.compare import FEET, PAIRS, assess_pair, pairs_of
from fitcheck.pairs.models import NotCompared, PairAssessment

__all__ = ["FEET", "PAIRS", "NotCompared", "PairAssessment", "assess_pair", "pairs_of"]
