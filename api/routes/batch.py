"""Many fittings in one request: NDJSON in, NDJSON out, answered line by line as they arrive."""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Callable, Iterable, Iterator, Sequence
from http import HTTPStatus
from itertools import repeat
from typing import Final, NamedTuple

from pydantic import ConfigDict, Field
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from api.assessing import assess_aside, followed_by, refusal, reused
from api.http.limits import Limits
from api.http.line_splitter import Line, LineSplitter
from api.http.metrics import count_store_error
from api.http.problems import ProblemDetails, ProblemError, details, instance_of, store_problem
from api.http.request_middleware import internal_error
from api.http.request_notes import GONE
from api.http.upload_buffer import SetAside, UploadBuffer
from api.http.worker import Worker
from api.parameters.batch_line import read_line
from api.parameters.language import language_headers
from api.parameters.record_address import address_of
from api.store import AsyncStore
from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.documented import DocumentedModel
from fitcheck.fitting.models import Fitting
from fitcheck.records import Draft, Idempotency, KeyReused, Record, StoredRecord, StoreError, draft_of
from rules import Rulebook

__all__ = ["MEDIA_TYPES", "BatchAnswer", "BatchAnswerLine", "KeyedFitting"]

MEDIA_TYPES: Final = ("application/x-ndjson", "application/ndjson")
"""The content types that a batch may have; the first is that of the answer."""

_STORED_AT_ONCE: Final = 50
_LINE_BREAKS: Final = str.maketrans({letter: f"\\u{ord(letter):04x}" for letter in "\x85\u2028\u2029"})
"""JSON need not escape these, and NDJSON ends no line with them; many a client's library does."""
_logger = logging.getLogger(__name__)


class KeyedFitting(DocumentedModel):
    """A line of a batch with a key of its own, so that sending it again keeps nothing twice."""

    model_config = ConfigDict(extra="forbid")

    key: str = Field(min_length=1, max_length=255, pattern="^[!-~]+$")
    """Your own name for this line: 1 to 255 visible ASCII characters, such as a random UUID."""
    fitting: Fitting


class BatchAnswerLine(DocumentedModel):
    """The answer to one line of a batch: either an assessment or a problem."""

    model_config = ConfigDict(extra="forbid")

    line: int
    """The line of the request, counted from 1 over all lines, blank ones too."""
    location: str | None = None
    """Where the assessment was kept, with keep=true."""
    replayed: bool | None = None
    """true: this is the answer to an earlier line with the same key; else not there."""
    assessment: Assessment | None = None
    problem: ProblemDetails | None = None


class _AnswerLine(NamedTuple):
    """What is said of one line; ``draft``: what is to be kept before it is said."""

    number: int
    parts: dict[str, str]
    """By key, each as JSON."""
    draft: Draft | None = None
    idempotency: Idempotency | None = None
    """What tells the line from any other, where it has a key."""

    def line(self) -> bytes:
        parts = "".join(f',"{key}":{text}' for key, text in self.parts.items())
        return f'{{"line":{self.number}{parts}}}\n'.encode()


class BatchAnswer(Response):
    """Reads the request while it answers: one answer line for each line that is not blank, in order."""

    media_type = MEDIA_TYPES[0]

    def __init__(
        self,
        book: Rulebook,
        limits: Limits,
        set_aside: SetAside,
        worker: Worker,
        async_store: AsyncStore,
        keeps: Callable[[str, bytes], Idempotency] | None = None,
    ) -> None:
        """Assess by ``book`` within ``limits``, in ``worker`` what takes long; ``set_aside``: of all batches.

        What lines follow lies in ``async_store``; there each assessment is kept before it is answered, where it
        ``keeps``: what tells a line with this key and fitting from any other.
        """
        self._book = book
        self._limits = limits
        self._set_aside = set_aside
        self._worker = worker
        self._faults = 0
        self._broken_off = False
        self._async_store = async_store
        self._keeps = keeps
        self._at_once = 1 if keeps is None else _STORED_AT_ONCE
        self.status_code = HTTPStatus.OK
        self.background = None
        self.init_headers(language_headers(book.language))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        with UploadBuffer(self._limits, self._set_aside) as buffer:
            tasks = [asyncio.create_task(buffer.fill(receive))]
            if (gone := scope["state"].get(GONE)) is not None:
                tasks.append(asyncio.create_task(buffer.end_once(gone)))
            try:
                await send({"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers})
                await self._answer(instance_of(scope), buffer, send)
            finally:
                for task in tasks:
                    task.cancel()
                outcome, *_ = await asyncio.gather(*tasks, return_exceptions=True)
                if isinstance(outcome, Exception):
                    _logger.error("request %s: its body could not be taken in", instance_of(scope), exc_info=outcome)

    async def _answer(self, instance: str, buffer: UploadBuffer, send: Send) -> None:
        lines = LineSplitter(self._limits.line)
        async for chunk in buffer.chunks():
            await self._answer_each(lines.push(chunk), instance, buffer, send)
            if self._broken_off:
                break
            # What has only blank lines is passed over without waiting for anything.
            await asyncio.sleep(0)
        if buffer.cut_off or not (buffer.complete or self._broken_off):
            return
        if not self._broken_off:
            await self._answer_each(lines.end(), instance, buffer, send)
        await send({"type": "http.response.body", "body": b"", "more_body": False})

    async def _answer_each(self, arrived: Iterable[Line], instance: str, buffer: UploadBuffer, send: Send) -> None:
        """Answer these lines, as long as there is somebody to answer; those that are kept some at a time."""
        group: list[_AnswerLine] = []

        async def say() -> None:
            answer = await self._stored_first(group, instance)
            with buffer.stuck():
                await send({"type": "http.response.body", "body": answer, "more_body": True})
            group.clear()

        for line in arrived:
            if buffer.cut_off:
                return
            if self._faults >= self._limits.batch_faults:
                group.append(self._last_line(line.number, f"{instance}#line-{line.number}"))
                self._broken_off = True
                break
            group.append(await self._answer_line(line, f"{instance}#line-{line.number}"))
            if len(group) == self._at_once:
                await say()
            # Sending need not wait: let other requests have their turn.
            await asyncio.sleep(0)
        if group:
            await say()

    async def _stored_first(self, group: Sequence[_AnswerLine], instance: str) -> bytes:
        """What is said of these lines, when what is to be kept of them has been kept, in one transaction."""
        waiting = [(each.draft, each.idempotency) for each in group if each.draft is not None]
        if not waiting:
            return b"".join(answer_line.line() for answer_line in group)
        outcomes: Iterator[StoredRecord | StoreError]
        try:
            outcomes = iter(await self._async_store.keep_each(waiting))
        except StoreError as error:
            count_store_error(type(error).__name__)
            _logger.exception("request %s: %d lines were not kept", instance, len(waiting))
            outcomes = repeat(error)
        return b"".join(
            (each if each.draft is None else self._outcome_line(each, next(outcomes), instance)).line()
            for each in group
        )

    def _outcome_line(self, answer_line: _AnswerLine, outcome: StoredRecord | StoreError, instance: str) -> _AnswerLine:
        """What is said of a line when it is known what came of keeping it."""
        if isinstance(outcome, StoreError):
            key = "" if answer_line.idempotency is None else answer_line.idempotency.key
            problem = refusal(outcome, key, "key") or store_problem(outcome)
            return self._problem(answer_line.number, problem, f"{instance}#line-{answer_line.number}")
        return answer_line if outcome.fresh else self._repeated(answer_line.number, outcome.record)

    @staticmethod
    def _repeated(number: int, record: Record) -> _AnswerLine:
        """What was said of a line when it was sent before."""
        location = json.dumps(address_of(record.id))
        return _AnswerLine(number, {"location": location, "replayed": "true", "assessment": record.answer.decode()})

    async def _assessed(self, line: Line) -> _AnswerLine:
        """What is said of a line, once it was kept. Raises ProblemError and StoreError."""
        if line.raw is None:
            raise ProblemError("body-too-large", f"This line has more than {self._limits.line} bytes.")
        raw, key = read_line(line.raw)
        idempotency = None
        if key is not None and self._keeps is not None:
            one = idempotency = self._keeps(key, raw)
            try:
                earlier = await self._async_store.read(lambda store: store.answered(one))
            except KeyReused:
                raise reused(key, "key") from None
            if earlier is not None:
                return self._repeated(line.number, earlier)
        before = await followed_by(raw, self._async_store, self._book)
        fitting, assessment = await assess_aside(raw, self._book, self._worker, before, how=assess, patient=True)
        if self._keeps is None:
            return _AnswerLine(line.number, {"assessment": assessment.model_dump_json()})
        draft = draft_of(raw, fitting, assessment)
        parts = {"location": json.dumps(address_of(draft.id)), "assessment": draft.answer.decode()}
        return _AnswerLine(line.number, parts, draft, idempotency)

    async def _answer_line(self, line: Line, instance: str) -> _AnswerLine:
        try:
            return await self._assessed(line)
        except StoreError as error:
            count_store_error(type(error).__name__)
            _logger.exception("request %s: its key could not be looked up", instance)
            return self._problem(line.number, store_problem(error), instance)
        except ProblemError as error:
            if error.kind.status >= HTTPStatus.INTERNAL_SERVER_ERROR:
                _logger.exception("request %s: %s", instance, error.kind.name)
            return self._problem(line.number, error, instance)
        except Exception:
            # One line spoils only itself, whatever went wrong with it.
            _logger.exception("request %s failed", instance)
            return self._problem(line.number, internal_error(), instance)

    def _problem(self, number: int, problem: ProblemError, instance: str) -> _AnswerLine:
        self._faults += 1
        return _AnswerLine(number, {"problem": details(problem, instance).model_dump_json().translate(_LINE_BREAKS)})

    def _last_line(self, number: int, instance: str) -> _AnswerLine:
        detail = (
            f"{self._limits.batch_faults} lines of this batch had faults. This line and all after it were not looked "
            "at. Put the faults right, and send the rest again."
        )
        return self._problem(number, ProblemError("too-many-faults", detail), instance)
