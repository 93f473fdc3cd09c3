"""/v1/practice and /v1/people/{person}/practice: what can be practised, sessions of practice, and what they tell."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import Annotated, Any, Final, TypeVar

from fastapi import FastAPI
from pydantic import Field
from starlette.requests import Request
from starlette.responses import Response

from api.http.bodies import read_body, require_media_type
from api.http.headers import JSON
from api.http.limits import Limits
from api.http.problems import READING, WRITING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation, header
from api.parameters.language import CONTENT_LANGUAGE, LanguageQuery, book_in, language_headers
from api.parameters.query import WHOLE, Query, parameter, refuse
from api.responses.practice import PracticeOffer, StoredSession, StoredSessions
from api.routes.marks import as_json
from api.routes.stored_record import TAGGED
from api.store import AsyncStore
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import cut, loads
from fitcheck.fitting.validation import summary
from fitcheck.practice import (
    ExerciseId,
    PracticeOutcome,
    PracticeSession,
    outcome_of,
    parse_practice,
    practising_person,
)
from fitcheck.practice.outcome import MOST_SESSIONS
from fitcheck.records import RequestErased, Store
from fitcheck.records.practice import PracticeReused, PracticeSessions, StoredPractice
from rules import Rulebook

__all__ = ["PRACTICE_EXAMPLE", "add_practice"]

TAG: Final = "practice"
_PATH: Final = "/v1/people/{person}/practice"
_MOST_LISTED: Final = 100
_Result = TypeVar("_Result")
_PERSON: Final = parameter("path", "person", "Who practises, by the id in the fittings.", example="A-1")
_SESSION_ID: Final = "7c1f0d7a-58ce-4f0a-9f35-6e1df2b7a0c4"
_SESSION: Final = parameter("path", "session", "The session's id.", example=_SESSION_ID)
_APART: Final = """Practice is apart from the work: it is in no assessment, mark, progress or agreement, and it is
exported and erased with the person."""


class PracticeQuery(Query):
    """Which sessions, and how many."""

    exercise: ExerciseId | None = None
    """Of this exercise."""
    limit: Annotated[int, Field(ge=1, le=_MOST_LISTED), WHOLE] = 30
    """How many at most."""
    before: Annotated[str, Field(min_length=1, max_length=64)] | None = None
    """Those that come after the session of this id in the list: next of the page before."""


def add_practice(app: FastAPI, async_store: AsyncStore, book: Rulebook, limits: Limits) -> None:
    """Add the routes that offer exercises by ``book`` and keep sessions in ``async_store``."""

    @needs("read")
    async def offer(request: Request) -> Response:
        Query.of(request)
        return as_json(request, PracticeOffer.of(book))

    @needs("assess")
    async def keep(request: Request) -> Response:
        Query.of(request)
        require_media_type(request, JSON)
        person, session = _parsed(request.path_params["person"], await read_body(request, limits.body))
        try:
            stored, fresh = await async_store.keep_practice(person, session)
        except PracticeReused as error:
            raise _reused(session, str(error)) from error
        except RequestErased as error:
            raise ProblemError("gone", f'The session "{session.id}" was erased.') from error
        where = {"location": f"/v1/people/{person}/practice/{session.id}"}
        status = HTTPStatus.CREATED if fresh else HTTPStatus.OK
        return Response(StoredSession.of(stored).model_dump_json(), status, where, JSON)

    @needs("read")
    async def show_all(request: Request) -> Response:
        query, person = PracticeQuery.of(request), request.path_params["person"]
        return as_json(request, await async_store.read(lambda store: _listed(store, person, query)))

    @needs("read")
    async def show(request: Request) -> Response:
        Query.of(request)
        person, id_ = request.path_params["person"], request.path_params["session"]
        found = await async_store.read(lambda store: PracticeSessions(store).one(person, id_))
        if found is None:
            detail = f'There is no session "{cut(id_)}" of this person. GET {_PATH} lists those that there are.'
            fault = Problem("path.session", summary(id_), f"the id of a session in GET {_PATH}", detail)
            raise ProblemError("not-found", detail, [fault])
        return as_json(request, StoredSession.of(found))

    @needs("read")
    async def show_outcome(request: Request) -> Response:
        query, person = LanguageQuery.of(request), request.path_params["person"]
        localized = book_in(request, query.lang, book)
        found = await async_store.read_much(_of_sessions(person, lambda every: outcome_of(every, localized)))
        answer = as_json(request, found)
        answer.headers.update(language_headers(localized.language))
        return answer

    add_operation(app, "/v1/practice", offer, _OFFER)
    add_operation(app, _PATH, keep, _KEEP)
    add_operation(app, _PATH, show_all, _SHOW_ALL)
    add_operation(app, f"{_PATH}/outcome", show_outcome, _OUTCOME)
    add_operation(app, f"{_PATH}/{{session}}", show, _SHOW)


def _of_sessions(person: str, make: Callable[[list[PracticeSession]], _Result]) -> Callable[[Store], _Result]:
    def work(store: Store) -> _Result:
        found = PracticeSessions(store).of_person(person, limit=MOST_SESSIONS)
        return make([each.session for each in found])

    return work


def _parsed(person: str, raw: bytes) -> tuple[str, PracticeSession]:
    try:
        document = loads(raw)
    except BadInput as error:
        raise ProblemError("bad-json", error.problems[0].detail, error.problems) from None
    try:
        return practising_person(person), parse_practice(document)
    except BadInput as error:
        first = error.problems[0]
        raise ProblemError("bad-practice", f"{first.field}: {first.detail}", error.problems) from None


def _reused(session: PracticeSession, detail: str) -> ProblemError:
    return ProblemError("practice-reused", detail, [Problem("id", session.id, "an id that is new", detail)])


def _listed(store: Store, person: str, query: PracticeQuery) -> StoredSessions:
    practice = PracticeSessions(store)
    before: StoredPractice | None = None
    if query.before is not None:
        before = practice.one(person, query.before)
        if before is None:
            allowed = "next of the page before"
            refuse("before", query.before, allowed, f'There is no session "{cut(query.before)}" of this person.')
    found = practice.of_person(person, exercise=query.exercise, before=before, limit=query.limit + 1)
    shown = found[: query.limit]
    return StoredSessions(
        sessions=tuple(StoredSession.of(each) for each in shown),
        next=shown[-1].session.id if len(found) > query.limit else None,
    )


PRACTICE_EXAMPLE: Final[dict[str, Any]] = {
    "id": _SESSION_ID,
    "exercise": "heel_width",
    "began": "2026-03-04T18:00:00.000Z",
    "ended": "2026-03-04T18:00:04.100Z",
    "bounds": [-0.5, 1.5875, 3.175],
    "drawings": [
        {"seed": 3021, "foot": "left_fore", "place": "lateral_heel", "value": 1.23, "word": "close", "ms": 1840},
        {"seed": 77, "foot": "right_hind", "place": "medial_heel", "value": 2.31, "word": "full", "ms": 1510},
    ],
}
_OFFER: Final = Operation(
    name="practice",
    tag=TAG,
    summary="What can be practised",
    description="Each exercise with its words in the order of what is measured, and where each word ends in the "
    "service's rulebook; and the grid of people by which the next drawing is chosen (docs/practice.md). "
    "The page /practice draws and asks by it, with and without a signal.",
    query=Query,
    answers={HTTPStatus.OK: Answer("What can be practised.", Content((PracticeOffer,)), TAGGED)},
)
_KEEP: Final = Operation(
    name="keep_practice",
    tag=TAG,
    summary="Keep a session of practice",
    description=f"The id is made by the client, so that a session that is sent again is kept once: 201 the first "
    f"time, 200 after it. {_APART}",
    path=(_PERSON,),
    query=Query,
    body=Content((PracticeSession,), examples={"two": {"summary": "Two drawings", "value": PRACTICE_EXAMPLE}}),
    answers={
        status: Answer(
            description,
            Content(
                (StoredSession,),
                examples={
                    "two": {
                        "summary": "Two drawings",
                        "value": PRACTICE_EXAMPLE
                        | {"person": "A-1", "created": "2026-03-04T18:00:05.000Z", "right": 2},
                    }
                },
            ),
            {"Location": header("Where the session is.")},
        )
        for status, description in (
            (HTTPStatus.CREATED, "The session, which was kept."),
            (HTTPStatus.OK, "The session, which had been kept before."),
        )
    },
    problems=("bad-practice", "practice-reused", "gone", *WRITING),
)
_SHOW_ALL: Final = Operation(
    name="practice_sessions",
    tag=TAG,
    summary="A person's sessions of practice",
    description=f"The latest first. A person of whom nothing is kept has none. {_APART}",
    path=(_PERSON,),
    query=PracticeQuery,
    answers={HTTPStatus.OK: Answer("The sessions.", Content((StoredSessions,)), TAGGED)},
    problems=READING,
)
_SHOW: Final = Operation(
    name="practice_session",
    tag=TAG,
    summary="One session of practice",
    description="As it was sent, with when it was kept and how many words were those of the book.",
    path=(_PERSON, _SESSION),
    query=Query,
    answers={HTTPStatus.OK: Answer("The session.", Content((StoredSession,)), TAGGED)},
    problems=("not-found", *READING),
)
_OUTCOME: Final = Operation(
    name="practice_outcome",
    tag=TAG,
    summary="What a person's practice tells",
    description="Of each exercise: bias, spread and lapses with intervals, where each word begins and ends for this "
    "eye, week by week and place by place, in sentences; and what to practise next. bias is how much higher the "
    f"bounds of this eye lie than those of the book. {_APART}",
    path=(_PERSON,),
    query=LanguageQuery,
    answers={
        HTTPStatus.OK: Answer("What the sessions tell.", Content((PracticeOutcome,)), {**TAGGED, **CONTENT_LANGUAGE})
    },
    problems=READING,
)
