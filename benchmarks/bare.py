"""The bare route that ours is held against: the same models in and out, declared as FastAPI's guide does."""

from __future__ import annotations

from fastapi import FastAPI

from benchmarks.harness import documents, typical_answer
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting

__all__ = ["create_app"]

_AMONG = 50


class BuiltFitting(Fitting, defer_build=False):
    """The fitting, its validator built at once, as models are that wait for no command."""


def create_app() -> FastAPI:
    """An application whose one route takes a Fitting and answers with an Assessment that never changes."""
    app = FastAPI()
    answer = Assessment.model_validate_json(typical_answer(Fitting.model_validate(each) for each in documents(_AMONG)))

    @app.post("/v1/assessments")
    async def assessments(fitting: BuiltFitting) -> Assessment:  # noqa: ARG001  (parsed, and that is all)
        return answer

    return app
