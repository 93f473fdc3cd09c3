"""GET /v1/assessments/{id}/drawing.svg: the foot as it was kept, drawn."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, Final, cast, get_args

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import READING
from api.http.route_scopes import needs
from api.openapi.document import answer, problems
from api.parameters.query import known_only, one_of
from api.routes.assessment_list import LIST
from api.routes.assessments import TAG
from api.routes.stored_record import (
    ASSESSMENT_ID,
    IF_NONE_MATCH,
    NOT_MODIFIED,
    SVG,
    SVG_POLICY,
    TAGGED,
    answered,
    stored_foot,
)
from api.store import AsyncStore
from fitcheck.drawing import Form
from rules import Rulebook

__all__ = ["add_drawings"]

_DOC: Final = """The foot from below, its walls with nails and exits from the side, findings at their places, and the
same in words (title and desc). It is drawn from the fitting and the assessment as they were kept; nothing is assessed
anew. form=column is narrow, for a telephone; sheet sets the lists beside the views.

The bands in which nails may come out are those of the rulebook that judged. Where the service has another one since,
the drawing says so and leaves them out; findings and words stay as they were answered.

The picture has no script, style sheet or link, and may be shown under any content security policy."""
_FORMS: Final[tuple[str, ...]] = get_args(Form)


def add_drawings(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the route that draws what is in ``async_store``, with ``book`` where that one judged."""

    @needs("read")
    async def show_drawing(request: Request) -> Response:
        known_only(request, ("form",))
        form = cast("Form", one_of(request, "form", _FORMS) or _FORMS[0])
        id_ = request.path_params["id"]
        drawing = await async_store.read(lambda store: stored_foot(store, id_, book).drawing(form=form))
        return answered(request, drawing, SVG, SVG_POLICY)

    app.add_api_route(
        f"{LIST}/{{id:assessment}}/drawing.svg",
        show_drawing,
        methods=["GET"],
        operation_id="drawing",
        tags=[TAG],
        summary="One assessment that was kept, as a drawing",
        description=_DOC,
        response_class=Response,
        responses={
            HTTPStatus.OK.value: {**answer("The drawing.", {SVG: {"schema": {"type": "string"}}}), "headers": TAGGED},
            **NOT_MODIFIED,
            **problems("bad-query", "not-found", "gone", "cannot-show", *READING),
        },
        openapi_extra={"parameters": [ASSESSMENT_ID, _FORM, IF_NONE_MATCH]},
    )


_FORM: Final[dict[str, Any]] = {
    "name": "form",
    "in": "query",
    "required": False,
    "description": "Narrow, or a sheet for paper.",
    "schema": {"enum": list(_FORMS), "default": _FORMS[0]},
}
