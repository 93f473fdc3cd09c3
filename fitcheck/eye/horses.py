"""What the horses of looks tell of how sure a fit is: the sandwich over horses, its bias for few of them taken out.

K.-Y. Liang and S. L. Zeger, Longitudinal data analysis using generalized linear models, Biometrika 73 (1986) 13-22:
looks at one horse may go together, and the model may be wrong in the rest; how the scores of horses differ shows it.
Of few horses each has drawn the fit towards itself, so that their scores are too small: R. M. Bell and D. F. McCaffrey,
Bias reduction in standard errors for linear regression with multi-stage samples, Survey Methodology 28 (2002) 169-181,
take that out by the horse's own share of the information (the kind that is called CR2).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from fitcheck.eye.likelihood import Array
from fitcheck.eye.model import Model

__all__ = ["Doubt", "doubt_of"]

_MOST_OWN: Final = 0.96
"""Of what is known, as much as one horse is taken to have told: else its score would count without bound."""


class Doubt(NamedTuple):
    """How sure the parameters of a fit are."""

    curved: Array
    """Their covariance by the curvature of the likelihood, and of what is known before."""
    before: Array
    """The part of it that what is known before has."""
    by_horses: Array
    """What horses say in the place of the rest."""

    def ratio(self, at: int) -> float:
        """The variance of one parameter by horses, to that by the curvature."""
        return float((self.by_horses[at, at] + self.before[at, at]) / self.curved[at, at])

    def ratio_of_all(self) -> float:
        """The same of all parameters together, of what the looks tell alone; 0 where they tell nothing."""
        told = self.curved - self.before
        exact = np.linalg.inv(self.curved)
        whole = float(np.sum(exact * told))
        return float(np.sum(exact * self.by_horses)) / whole if whole > 0 else 0.0


def doubt_of(model: Model, best: Array) -> Doubt | None:
    """The doubt of the fit ``best``; None where the looks do not hold it."""
    _, gradient, hessian = model.each(best)
    precision, groups = model.before.precision, model.data.groups
    try:
        curved = np.linalg.inv(precision - hessian.sum(axis=0) / model.less)
    except np.linalg.LinAlgError:
        return None
    curved = (curved + curved.T) / 2
    if not np.all(np.isfinite(curved)):
        return None
    values, vectors = np.linalg.eigh(curved)
    if values[0] <= 0:
        return None
    root = (vectors * np.sqrt(values)) @ vectors.T
    count = int(groups.max()) + 1
    scores, told = np.zeros((count, best.size)), np.zeros((count, best.size, best.size))
    np.add.at(scores, groups, gradient / model.less)
    np.add.at(told, groups, -hessian / model.less)
    share, ways = np.linalg.eigh(root @ told @ root)
    along = np.einsum("gij,gi->gj", ways, scores @ root) / np.sqrt(1 - np.minimum(share, _MOST_OWN))
    moved = np.einsum("gij,gj->gi", ways, along) @ root
    return Doubt(curved, curved @ precision @ curved, moved.T @ moved)
