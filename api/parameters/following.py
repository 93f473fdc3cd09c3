"""What stands against following the assessment that a fitting names."""

from __future__ import annotations

from typing import Final

from api.http.problems import ProblemError
from fitcheck.assessment.following import CannotFollow
from fitcheck.errors import Problem
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.stored import UnknownFollowed

__all__ = ["FOLLOWING", "cannot_follow", "follows_and_corrects", "nothing_to_follow"]

FOLLOWING: Final = ("unknown-follows", "follows-another", "follows-later-stage")
"""The kinds of problem of a fitting that follows."""
_KINDS: Final = {"another": "follows-another", "later_stage": "follows-later-stage"}


def nothing_to_follow(error: UnknownFollowed) -> ProblemError:
    """The problem of a fitting that follows what is not there, or no longer counts."""
    detail = f'Nothing to follow by the id "{cut(error.id)}": {error}'
    fault = Problem("follows", summary(error.id), "the id of an assessment in GET /v1/assessments", detail)
    return ProblemError("unknown-follows", detail, [fault])


def cannot_follow(error: CannotFollow) -> ProblemError:
    """The problem of a fitting that cannot follow what it names."""
    first = error.problems[0]
    return ProblemError(_KINDS[error.reason], f"{first.field}: {first.detail}", error.problems)


def follows_and_corrects(follows: str, corrects: str) -> ProblemError:
    """The problem of a fitting that follows one assessment and is to correct one."""
    detail = (
        "The fitting follows an assessment, and the request corrects one. A correction is sent whole: put in what was "
        "carried, and leave follows out."
    )
    faults = [
        Problem("follows", summary(follows), "no follows with corrects", detail),
        Problem("query.corrects", summary(corrects), "no corrects with follows", detail),
    ]
    return ProblemError("follows-and-corrects", detail, faults)
