"""POST /v1/assessments and its batch."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.assessing import BRIEF_TYPE, AssessQuery, StoringAssessor, assess_aside, bearing, followed_by
from api.http.bodies import read_body, require_media_type
from api.http.headers import JSON
from api.http.limits import Limits
from api.http.problems import WRITING
from api.http.route_scopes import needs
from api.http.upload_buffer import SetAside
from api.http.worker import Worker
from api.openapi.brief import BRIEF
from api.openapi.examples import EXAMPLES, answer_to
from api.openapi.operation import (
    RECORD_TAG,
    REPLAYED,
    Answer,
    Content,
    Operation,
    add_operation,
    example_problem,
    header,
)
from api.parameters.eye import beside_eye, eye_of_query
from api.parameters.following import FOLLOWING
from api.parameters.idempotency import IDEMPOTENCY_KEY, idempotency_of, refuse_key
from api.parameters.language import CONTENT_LANGUAGE, Language, book_in, language_headers
from api.parameters.query import Flag, Query, parameter
from api.routes.batch import MEDIA_TYPES, BatchAnswer, BatchAnswerLine, KeyedFitting
from api.store import AsyncStore
from fitcheck.assessment.assess import assess
from fitcheck.assessment.brief import BriefAssessment, assess_briefly
from fitcheck.assessment.following import Following
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput
from fitcheck.explanation.explain import explain
from fitcheck.explanation.models import ExplainedAssessment
from fitcheck.fitting.models import Fitting
from fitcheck.records import Idempotency
from rules import Rulebook

__all__ = ["add_assessments"]

TAG: Final = "assessments"
_ONE: Final = """Send what was observed of one shod foot; the answer is its assessment: the decision, every finding
with the limit that it passed, how sure it is, what to do in working order, what conforms, what was not assessed and
what is still needed.

Leave out what was not observed: it is reported as not assessed and never taken as good. A reading is a plain number
(mm, or the quantity's own unit), or an object with value, unit, u and method; for the width of a branch also a word
of the eye. Every field, with its range and how to measure it, stands under Fitting.

The answer is good for every decision, also for stop_and_refer: read decision. The assessment is kept, with the body
just as it was sent, and the answer is 201 with its address in Location; with keep=false nothing is kept and the
answer is 200. Nothing is kept of what cannot be assessed.

Send an Idempotency-Key, such as a random UUID, and a request that is sent again keeps nothing twice, also long after
and to another server process: it is answered just as it was the first time, with Idempotency-Replayed: true. That
needs the very same body and query; a key that comes with others is an error. Each access key has its own
Idempotency-Keys; one that is a UUID is known again, with its body, also after the access key was changed. With
keep=false the header has no meaning. What was erased since is not kept anew: such a request is answered as gone.

A visit is of one horse: a fitting that names another one than was kept under its visit is not kept
(visit-of-another-horse).

A fitting with follows, the id of the kept assessment of the same foot before it, leaves out what stands as it was
observed then: work, form, stance, hoof and shoe; the dressing, and what was seen; from the trial on imprint, holds and
holes; from nailed on exits, sound, reaction, blood and position of the nails; and heel_fit, toe_fit and levelness where
they say as_before. At another visit only work, form and stance stand. What was carried, and from where, is in carried;
earlier_findings tells what could not be undone then, and retry what a second try of one stage made better and worse,
and what is left. Nothing is carried from what was observed at a later stage (follows-later-stage), of another foot or
horse (follows-another), or erased or corrected since (unknown-follows). What was received stays as it was sent: GET
/v1/assessments/{id}/fitting.

A kept assessment is never changed. To put one right, send the whole fitting anew with corrects and the old one's id:
the old one then counts no more, and each leads to the other. It must be of the same foot and the same horse; a horse
may be added where none was named, and the visit may be another. What was corrected once is not corrected again
(already-corrected): correct the correction. With If-Match, which takes the ETag or the id of what is corrected, in
quotation marks, nothing is corrected but what it names.

The texts are in the language of lang, or else of Accept-Language, and an assessment is kept in the language in which
it was answered; where that is not the rulebook's own, language says so. Decisions and numbers are the same in each.
What is wrong with a fitting is told in English.

With view=brief the answer is short, as application/vnd.fitcheck.brief+json: the decision, what follows, each finding in
one sentence with rule, place and grade, what to do, and the cautions that belong to it. The whole assessment is kept
all the same; a request that is sent again may ask for the other view.

With eye and the id of the person whose words they are, each single finding on a word of the eye has chance_by_eye: how
probable it is by that person's measured words (GET /v1/people/{person}/eye); eye names person and version. It changes
neither decision, grade nor order. Of a person without measured words, of another's, or of a version that is no longer
at hand, it is refused.

With explain=true the answer has explanation besides: for each criterion the readings, the limits on each and why
they apply, what fired, what stayed silent and by how much, and how the decision comes. The explanation is not kept,
only the assessment without it."""
_MANY: Final = """NDJSON in, NDJSON out: one fitting to a line, one answer line for each line that is not blank, in
the same order. An answer line has the number of its line and either assessment or problem; a bad line spoils only
itself. The answer is 200 as soon as the batch is accepted, so look at each line.

Instead of a fitting a line may be an object with a key of your own and the fitting: {"key": "…", "fitting": {…}}. The
fields of its problems are those of the fitting.

Answers come while the request is still being sent. Read them as you send if you can; a batch that is sent whole
before the answer is read is set aside on disk, as far as there is room. A batch whose answer breaks off before its
last line was cut short: send it again, all of it where its lines have keys. Without keys send the rest; of what was
kept, the last answers may be missing, so look them up first, by visit or person. A batch with 1,000 faulty lines ends
there: the next line is answered with a problem that says so, and nothing after it is looked at.

Nothing is kept unless keep=true is asked for. Each answer line then has location, and is sent when its assessment
has been kept; they are kept some at a time, in their order. A line's key is what Idempotency-Key is for a single
fitting: a line that comes again with the same key and the same fitting, byte for byte, in this batch, in another or
by itself, keeps nothing twice and has the answer that was kept, with replayed; with another fitting it is that
line's problem (key-reused). The header Idempotency-Key is refused."""


class _BatchQuery(Query):
    keep: Flag = False
    """Whether to keep each line's assessment."""
    lang: Language = None


def add_assessments(app: FastAPI, book: Rulebook, limits: Limits, async_store: AsyncStore, worker: Worker) -> None:
    """Add the routes that assess by ``book``, in ``worker`` what takes long, and keep in ``async_store``."""
    assessor = StoringAssessor(async_store, book, worker)
    set_aside = SetAside(limits.all_batches_disk)

    @needs("assess")
    async def assess_one(request: Request) -> Response:
        query = AssessQuery.of(request)
        require_media_type(request, JSON)
        localized = book_in(request, query.lang, book)
        raw = await read_body(request, limits.body)
        if query.keep:
            return await assessor.answer(request, raw, localized, query)
        before = await followed_by(raw, async_store, localized)
        how: Callable[[Fitting | Following, Rulebook], Assessment | BriefAssessment]
        how = explain if query.explain else assess if query.view == "whole" else assess_briefly
        view = await eye_of_query(query.eye, async_store.read_much, localized)
        fitting, assessment = await assess_aside(raw, localized, worker, before, how=how)
        if isinstance(assessment, Assessment):
            assessment = beside_eye(assessment, fitting, view, localized)
        media_type = JSON if query.view == "whole" else BRIEF_TYPE
        return Response(
            assessment.model_dump_json(), headers=language_headers(localized.language), media_type=media_type
        )

    @needs("assess")
    async def assess_many(request: Request) -> Response:
        query = _BatchQuery.of(request)
        if query.keep:
            refuse_key(request, 'A batch takes none. Give each line its own: {"key": …, "fitting": {…}}.')
        require_media_type(request, *MEDIA_TYPES)

        def idempotency(key: str, raw: bytes) -> Idempotency:
            return idempotency_of(request, key, raw, bearing(query.lang))

        localized = book_in(request, query.lang, book)
        keeps = idempotency if query.keep else None
        return BatchAnswer(localized, limits, set_aside, worker, async_store, keeps)

    add_operation(app, "/v1/assessments", assess_one, _ASSESS)
    add_operation(app, "/v1/assessments/batch", assess_many, _ASSESS_BATCH)


def _requests() -> dict[str, Any]:
    return {example.name: {"summary": example.summary, "value": example.fitting} for example in EXAMPLES}


def _answers(book: Rulebook) -> dict[str, Any]:
    """What ``book`` answers to each example that it takes."""
    answers: dict[str, Any] = {}
    for example in EXAMPLES:
        # A book with narrower ranges may not take it.
        with suppress(BadInput):
            answer = answer_to(example, book)
            answers[example.name] = {"summary": example.summary, "value": answer.model_dump(mode="json")}
    return answers


_ASSESSMENT: Final = Content((Assessment, ExplainedAssessment), examples=_answers)
_IF_MATCH: Final = parameter(
    "header",
    "If-Match",
    "The ETag or the id of what corrects names, in quotation marks; with another, nothing is kept.",
)
_ASSESS: Final = Operation(
    name="assess",
    tag=TAG,
    summary="Assess one fitting",
    description=_ONE,
    query=AssessQuery,
    headers=(IDEMPOTENCY_KEY, _IF_MATCH),
    body=Content((Fitting,), examples=_requests()),
    answers={
        HTTPStatus.OK: Answer(
            "With keep=false: the assessment; with explain=true, with its explanation; with view=brief, in short.",
            _ASSESSMENT,
            CONTENT_LANGUAGE,
            BRIEF,
        ),
        HTTPStatus.CREATED: Answer(
            "The assessment, which was kept; with explain=true, with its explanation; with view=brief, in short.",
            _ASSESSMENT,
            {"Location": header("Where the assessment is kept."), **RECORD_TAG, **REPLAYED, **CONTENT_LANGUAGE},
            BRIEF,
        ),
    },
    problems=(
        "bad-idempotency-key",
        "bad-input",
        "key-reused",
        "gone",
        "unknown-correction",
        "correction-of-another",
        "already-corrected",
        *FOLLOWING,
        "follows-and-corrects",
        "precondition-failed",
        "cannot-explain",
        "cannot-show",
        "not-assessed",
        "busy",
        *WRITING,
    ),
)
_BAD_LINE: Final = {"summary": "A bad line", "value": {"line": 3, "problem": example_problem("bad-input")}}
_LINES: Final = {
    "plain": {"summary": "A line without a key", "value": EXAMPLES[-1].fitting},
    "keyed": {"summary": "A line with a key", "value": {"key": "5b0a6b7e", "fitting": EXAMPLES[-1].fitting}},
}
_ASSESS_BATCH: Final = Operation(
    name="assess_batch",
    tag=TAG,
    summary="Assess many fittings",
    description=_MANY,
    query=_BatchQuery,
    body=Content((Fitting, KeyedFitting), MEDIA_TYPES[0], _LINES),
    body_note="One fitting to a line, with a key or without; the schema is that of one line.",
    answers={
        HTTPStatus.OK: Answer(
            "One JSON object to a line, as described by the schema.",
            Content((BatchAnswerLine,), MEDIA_TYPES[0], {"bad_line": _BAD_LINE}),
            CONTENT_LANGUAGE,
        )
    },
    problems=("bad-idempotency-key",),
)
