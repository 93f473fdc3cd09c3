"""fitcheck: a second pair of eyes on a fitted horseshoe, consistent, explained and kept on record.

What a program needs stands here; ``docs/python.md`` tells of each name with an example.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from fitcheck.assessment.assess import assess
    from fitcheck.assessment.following import CannotFollow, Followed, Following, follow
    from fitcheck.assessment.models import Assessment, Finding
    from fitcheck.errors import BadInput, FitcheckError, Problem
    from fitcheck.explanation.explain import explain
    from fitcheck.explanation.models import ExplainedAssessment
    from fitcheck.fitting.models import Fitting
    from fitcheck.fitting.strict_json import loads
    from fitcheck.fitting.validation import parse_fitting
    from fitcheck.marking import MarkSheet, mark_of
    from fitcheck.pairs.compare import assess_pair
    from fitcheck.pairs.models import PairAssessment
    from fitcheck.pairs.visit import Assessed, VisitAssessment, visit_of
    from rules import (
        EngineFault,
        Rulebook,
        RulebookError,
        first_rulebook,
        load_rulebook,
        localized,
        shipped_rulebook,
    )

__version__ = "1.1.0"

__all__ = [
    "Assessed",
    "Assessment",
    "BadInput",
    "CannotFollow",
    "EngineFault",
    "ExplainedAssessment",
    "Finding",
    "FitcheckError",
    "Fitting",
    "Followed",
    "Following",
    "MarkSheet",
    "PairAssessment",
    "Problem",
    "Rulebook",
    "RulebookError",
    "VisitAssessment",
    "__version__",
    "assess",
    "assess_pair",
    "explain",
    "first_rulebook",
    "follow",
    "load_rulebook",
    "loads",
    "localized",
    "mark_of",
    "parse_fitting",
    "shipped_rulebook",
    "visit_of",
]

_HOMES: Final = {
    "fitcheck.assessment.assess": ("assess",),
    "fitcheck.assessment.following": ("CannotFollow", "Followed", "Following", "follow"),
    "fitcheck.assessment.models": ("Assessment", "Finding"),
    "fitcheck.errors": ("BadInput", "FitcheckError", "Problem"),
    "fitcheck.explanation.explain": ("explain",),
    "fitcheck.explanation.models": ("ExplainedAssessment",),
    "fitcheck.fitting.models": ("Fitting",),
    "fitcheck.fitting.strict_json": ("loads",),
    "fitcheck.fitting.validation": ("parse_fitting",),
    "fitcheck.marking": ("MarkSheet", "mark_of"),
    "fitcheck.pairs.compare": ("assess_pair",),
    "fitcheck.pairs.models": ("PairAssessment",),
    "fitcheck.pairs.visit": ("Assessed", "VisitAssessment", "visit_of"),
    "rules": (
        "EngineFault",
        "Rulebook",
        "RulebookError",
        "first_rulebook",
        "load_rulebook",
        "localized",
        "shipped_rulebook",
    ),
}
"""Where each name is defined: its module is loaded when the name is first asked for, since a command starts cold."""

_HOME_OF: Final = {name: module for module, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOME_OF[name]), name)
