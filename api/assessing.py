"""From the bytes of one fitting to its assessment, or to the problem that says why there is none."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import Final, Literal, Self, TypeVar

from pydantic import model_validator
from starlette.requests import Request
from starlette.responses import Response

from api.http.headers import JSON
from api.http.metrics import count_decision, count_engine_fault
from api.http.problems import ProblemError
from api.http.worker import Worker
from api.parameters.correcting import (
    already_corrected,
    nothing_to_correct,
    require_match,
    require_same_foot,
)
from api.parameters.eye import EyeName, beside_eye, eye_of_query
from api.parameters.following import cannot_follow, follows_and_corrects, nothing_to_follow
from api.parameters.idempotency import HEADER, REPLAYED, idempotency_key, idempotency_of
from api.parameters.language import Language, language_headers
from api.parameters.query import Flag, Query, refuse
from api.parameters.record_address import address_of, etag_of
from api.store import AsyncStore
from fitcheck.assessment.assess import assess
from fitcheck.assessment.brief import BriefAssessment, brief_of
from fitcheck.assessment.following import CannotFollow, Followed, Following, follow
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput, Problem
from fitcheck.explanation.explain import explain
from fitcheck.explanation.models import ExplainedAssessment, Explanation
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.strict_json import cut, loads
from fitcheck.fitting.validation import parse_fitting, summary
from fitcheck.records import (
    AlreadyCorrected,
    KeyReused,
    Record,
    StoredRecord,
    StoreError,
    UnknownRecord,
    VisitOfAnotherHorse,
    draft_of,
)
from fitcheck.rulebooks.selection import book_as_stored
from fitcheck.stored import (
    UnknownFollowed,
    Unreadable,
    brief_of_record,
    followed,
    follows_in,
    foot_of,
    stored_language,
)
from rules import EngineFault, Rulebook
from rules.loading.translation import BASE

__all__ = [
    "BRIEF_TYPE",
    "AssessQuery",
    "StoringAssessor",
    "assess_aside",
    "assess_bytes",
    "bearing",
    "brief_body",
    "cannot_show",
    "explained_anew",
    "followed_by",
    "gone",
    "refusal",
    "reused",
]

BRIEF_TYPE: Final = "application/vnd.fitcheck.brief+json"
"""The media type of an assessment in short: clients that know the whole one alone are never told the other."""
_AT_ONCE: Final = 4096
"""Bytes of a fitting that is assessed within a few milliseconds; one with many points is larger."""
_Fitting = Fitting | Following
_Assessed = TypeVar("_Assessed", bound=Assessment | BriefAssessment)


def assess_bytes(
    raw: bytes, book: Rulebook, before: Followed | None = None, *, how: Callable[[_Fitting, Rulebook], _Assessed]
) -> tuple[Fitting, _Assessed]:
    """Assess the fitting in the JSON document ``raw`` by ``book``, as ``how`` does: assess, explain, assess_briefly.

    ``before`` is what it follows; the fitting comes back with what was carried.
    The assessment is told in the language of ``book``, what is wrong with the document in English.

    Raises ProblemError of kind bad-json, bad-input, follows-another, follows-later-stage, or not-assessed when the
    rules did not run to their end.
    """
    try:
        document = loads(raw)
    except BadInput as error:
        raise ProblemError("bad-json", error.problems[0].detail, error.problems) from None
    try:
        own_book = book.original or book
        to_assess = parse_fitting(document, own_book) if before is None else follow(document, before, own_book)
        assessment = how(to_assess, book)
    except CannotFollow as error:
        raise cannot_follow(error) from None
    except BadInput as error:
        first = error.problems[0]
        many = "" if len(error.problems) == 1 else " More is wrong: see errors."
        raise ProblemError("bad-input", f"{first.field}: {first.detail}{many}", error.problems) from None
    except EngineFault as error:
        count_engine_fault()
        raise ProblemError(
            "not-assessed",
            "The rules could not be run to their end. There is no assessment of this foot, so it is not released.",
        ) from error
    count_decision(assessment.decision)
    return to_assess.fitting if isinstance(to_assess, Following) else to_assess, assessment


async def assess_aside(
    raw: bytes,
    book: Rulebook,
    worker: Worker,
    before: Followed | None = None,
    *,
    how: Callable[[_Fitting, Rulebook], _Assessed],
    patient: bool = False,
) -> tuple[Fitting, _Assessed]:
    """What ``assess_bytes`` gives, made in ``worker`` where it may take long.

    Raises also ProblemError of kind busy, unless ``patient``.
    """
    if len(raw) <= _AT_ONCE:
        return assess_bytes(raw, book, before, how=how)
    return await worker.run(lambda: assess_bytes(raw, book, before, how=how), patient=patient)


async def followed_by(
    raw: bytes, async_store: AsyncStore, book: Rulebook, *, corrects: str | None = None
) -> Followed | None:
    """The assessment that the fitting in ``raw`` follows, as it is kept; None where it follows none.

    Raises ProblemError of kind unknown-follows, or follows-and-corrects where the request also ``corrects``; and
    StoreError.
    """
    id_ = follows_in(raw)
    if id_ is None:
        return None
    if corrects is not None:
        raise follows_and_corrects(id_, corrects)
    try:
        return await async_store.read(lambda store: followed(store, id_, book.original or book))
    except UnknownFollowed as error:
        raise nothing_to_follow(error) from None


class AssessQuery(Query):
    """How one fitting is to be assessed."""

    keep: Flag = True
    """Whether to keep the assessment; with false it is assessed only."""
    explain: Flag = False
    """Whether to say why: each reading against each limit on it, what fired, what stayed silent and by how much, what
    does not apply here, and how the decision comes; not with view=brief."""
    view: Literal["whole", "brief"] = "whole"
    """The whole assessment; or in brief the decision, each finding in a sentence, and what to do. The same is kept."""
    corrects: Identifier | None = None
    """The id of the kept assessment that this one replaces; not with keep=false."""
    lang: Language = None
    eye: EyeName = None

    @model_validator(mode="after")
    def _only_what_is_stored_corrects(self) -> Self:
        if not self.keep and self.corrects is not None:
            detail = "With keep=false nothing is kept, so nothing is corrected. Leave one of the two out."
            refuse("corrects", self.corrects, "nothing with keep=false", detail)
        if self.explain and self.view == "brief":
            detail = "A brief answer has no explanation. Leave one of explain and view out."
            refuse("view", self.view, "whole with explain=true", detail)
        return self


def bearing(
    lang: str | None, corrects: str | None = None, *, explained: bool = False, eye: str | None = None
) -> tuple[str | bool | None, ...]:
    """What of a query bears on the answer.  Without lang and eye it is what it was before there were these."""
    if eye is not None:
        return corrects, explained, lang, "eye", eye
    return (corrects, explained) if lang is None else (corrects, explained, lang)


class StoringAssessor:
    """Assesses by ``book`` and keeps in ``async_store``."""

    def __init__(self, async_store: AsyncStore, book: Rulebook, worker: Worker) -> None:
        self._async_store = async_store
        self._book = book
        self._worker = worker

    async def answer(self, request: Request, raw: bytes, localized: Rulebook, query: AssessQuery) -> Response:
        """Assess the fitting in ``raw`` and keep it, unless a request of the same Idempotency-Key has.

        ``localized`` is the book in the language in which it is answered.  Raises ProblemError and StoreError.
        """
        corrects, explained = query.corrects, query.explain
        key = idempotency_key(request)
        idempotency = (
            None
            if key is None
            else idempotency_of(request, key, raw, bearing(query.lang, corrects, explained=explained, eye=query.eye))
        )
        if idempotency is not None:
            try:
                earlier = await self._async_store.read(lambda store: store.answered(idempotency))
            except KeyReused:
                raise reused(idempotency.key) from None
            if earlier is not None:
                return await self._repeated(earlier, query)
        corrected = None if corrects is None else await self._corrected(corrects)
        require_match(request, corrected)
        before = await followed_by(raw, self._async_store, localized, corrects=corrects)
        how = explain if explained else assess
        view = await eye_of_query(query.eye, self._async_store.read_much, localized)
        fitting, judged = await assess_aside(raw, localized, self._worker, before, how=how)
        assessment = beside_eye(judged, fitting, view, localized)
        if corrected is not None:
            require_same_foot(fitting, corrected)
        draft = draft_of(raw, fitting, _plain(assessment), corrects=corrects)
        try:
            if idempotency is None and corrects is None:
                stored = StoredRecord(await self._async_store.keep(draft), fresh=True)
            else:
                stored = await self._async_store.keep_once(draft, idempotency)
        except StoreError as error:
            problem = refusal(error, key or "")
            if problem is None:
                raise
            raise problem from None
        if not stored.fresh:
            return await self._repeated(stored.record, query)
        if query.view == "brief":
            body = brief_of(assessment, localized).model_dump_json().encode()
            return _created(stored.record, assessment.language or BASE, body=body)
        explanation = assessment.explanation if isinstance(assessment, ExplainedAssessment) else None
        return _created(stored.record, assessment.language or BASE, explanation)

    async def _corrected(self, corrects: str) -> Record:
        """What is to be corrected. Raises ProblemError for what is no assessment that is kept."""
        record = await self._async_store.read(lambda store: store.record(corrects))
        if record is None or record.kind != "assessment":
            raise nothing_to_correct(corrects, "There is no such assessment here.")
        if record.erased:
            raise nothing_to_correct(corrects, "That assessment was erased.")
        return record

    async def _repeated(self, record: Record, query: AssessQuery) -> Response:
        """The answer to an earlier request once more."""
        explanation = await self._worker.run(lambda: explained_anew(record, self._book)) if query.explain else None
        body = brief_body(record, self._book) if query.view == "brief" else None
        return _created(record, stored_language(record), explanation, {REPLAYED: "true"}, body=body)


def explained_anew(record: Record, book: Rulebook) -> Explanation:
    """Why, as it was said when the record was kept: the same fitting and rulebook have the same explanation.

    Raises ProblemError of kind cannot-explain where the rulebook that judged is not at hand, or says otherwise by now.
    """
    try:
        foot = foot_of(record, book)
        if foot.book.digest == record.rulebook_digest:
            explained = explain(foot.to_assess, book_as_stored(foot.book, foot.assessment.language))
            if _judged(explained) == _judged(foot.assessment):
                return explained.explanation
    except (BadInput, EngineFault, Unreadable) as error:
        raise ProblemError("cannot-explain", _ONLY_PLAIN.format(address_of(record.id))) from error
    raise ProblemError("cannot-explain", _ONLY_PLAIN.format(address_of(record.id)))


def _judged(assessment: Assessment) -> tuple[str, list[tuple[str, str]]]:
    return assessment.decision, [(each.id, each.grade) for each in assessment.findings]


def brief_body(record: Record, book: Rulebook) -> bytes:
    """The kept assessment in short. Raises ProblemError of kind cannot-show."""
    try:
        return brief_of_record(record, book).model_dump_json().encode()
    except Unreadable as error:
        raise cannot_show(record.id) from error


def cannot_show(id_: str) -> ProblemError:
    """The problem of a kept assessment that this version does not read."""
    detail = f'The assessment "{cut(id_)}" was written in a way that this version does not read.'
    return ProblemError("cannot-show", detail)


def gone(id_: str) -> ProblemError:
    """The problem of an assessment that was erased."""
    return ProblemError("gone", f'The assessment "{cut(id_)}" was erased.')


_ONLY_PLAIN: Final = (
    "This was kept under another rulebook, or by another version of the tool. GET {} shows its assessment as it was."
)


def _created(
    record: Record,
    language: str | None,
    explanation: Explanation | None = None,
    more: dict[str, str] | None = None,
    *,
    body: bytes | None = None,
) -> Response:
    media_type = JSON if body is None else BRIEF_TYPE
    body = record.answer if body is None else body
    if explanation is not None:
        body = body[:-1] + b',"explanation":' + explanation.model_dump_json().encode() + b"}"
    headers = {"location": address_of(record.id), "etag": etag_of(record), **language_headers(language)}
    return Response(body, HTTPStatus.CREATED, headers | (more or {}), media_type)


def _plain(assessment: Assessment) -> Assessment:
    """The assessment without its explanation."""
    if not isinstance(assessment, ExplainedAssessment):
        return assessment
    return Assessment.model_construct(**{name: getattr(assessment, name) for name in Assessment.model_fields})


def refusal(error: StoreError, key: str, field: str = f"header.{HEADER}") -> ProblemError | None:
    """The problem of what the store refuses because of what is kept; None where the store itself failed.

    ``key`` is the idempotency key that came with it in ``field``.
    """
    match error:
        case KeyReused():
            return reused(key, field)
        case UnknownRecord():
            return nothing_to_correct(error.id, "There is no such assessment here.")
        case AlreadyCorrected():
            return already_corrected(error)
        case VisitOfAnotherHorse():
            return visit_of_another_horse(error)
        case _:
            return None


def visit_of_another_horse(error: VisitOfAnotherHorse) -> ProblemError:
    """The problem of a second horse under one visit."""
    detail = (
        f'Under the visit "{cut(error.visit)}" the horse {error.there} was kept, and this one is {error.here}. Give '
        f"the visit of this horse another name; if what was kept is wrong, correct {address_of(error.id)}."
    )
    faults = [
        Problem("visit", summary(error.visit), "a visit of this horse alone", detail),
        Problem(error.field, summary(error.here), error.there, detail),
    ]
    return ProblemError("visit-of-another-horse", detail, faults)


def reused(key: str, field: str = f"header.{HEADER}") -> ProblemError:
    """The problem of an idempotency key, in ``field``, that came with another request before."""
    detail = "This key was used before, for a request with another body or query. Use a new key for a new request."
    return ProblemError("key-reused", detail, [Problem(field, summary(key), "a new key", detail)])
