"""What can go wrong with work that others do."""

from __future__ import annotations

from fitcheck.errors import FitcheckError

__all__ = ["ClusterLost", "OtherRulebook"]


class ClusterLost(FitcheckError):
    """There is no cluster at the address, it was lost while at work, or a part lost every worker that had it."""


class OtherRulebook(FitcheckError):
    """A worker has another rulebook under the name that a part gives."""
