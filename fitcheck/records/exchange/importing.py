"""Records of another store, and fittings that no store knows, taken into this one.

A record is appended to this store's chain, with the digest that it has in the store that it comes from as its
``source``. One that is known here already, by its id, is passed over; so is one whose content was erased, and the
record of an erasure. A fitting is assessed and kept, once for the same bytes; a session of practice is kept by its id.
Whatever cannot be taken in spoils only itself.
"""

from __future__ import annotations

import hashlib
import uuid
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import fields
from typing import BinaryIO, Final, Literal, NamedTuple

from fitcheck.assessment.assess import assess
from fitcheck.assessment.following import Followed, Following, follow
from fitcheck.errors import BadInput, FitcheckError, Problem
from fitcheck.fitting.strict_json import WHOLE
from fitcheck.fitting.validation import parse_fitting, summary
from fitcheck.practice import PracticeSession
from fitcheck.records.errors import AlreadyStored, RequestErased, StoreError, UnknownRecord, VisitOfAnotherHorse
from fitcheck.records.exchange import portable, spreadsheet
from fitcheck.records.exchange.exporting import Format
from fitcheck.records.exchange.portable import check_content, record_of
from fitcheck.records.exchange.practised import PRACTICE_KEY, practice_in
from fitcheck.records.practice import PracticeReused, PracticeSessions
from fitcheck.records.record import Draft, Idempotency, Record, draft_of
from fitcheck.records.store import Store
from rules import EngineFault, Rulebook

__all__ = ["BadLine", "Importer", "What"]

What = Literal["kept", "assessed", "practised", "known", "erased", "bad"]

_FITTING_KEY: Final = "observations"
_FOLLOWS: Final = "follows"
_SCOPE: Final = "import"
"""Whose idempotency keys the bytes of fittings are: of no access key."""
_AT_ONCE: Final = 100
_BYTES_AT_ONCE: Final = 8 * 1024 * 1024


class BadLine(NamedTuple):
    """A line that was not taken in, by its number, and why."""

    line: int
    problem: Problem

    def __str__(self) -> str:
        return f"line {self.line}: {self.problem}"


class _Fitting(NamedTuple):
    """A fitting that no store knows, as its bytes and as parsed JSON."""

    raw: bytes
    document: object


class _Practice(NamedTuple):
    """A session of practice, and whose it is."""

    person: str
    session: PracticeSession


class _Waiting(NamedTuple):
    """A record to be kept, by its line; ``foreign``: whether the store that wrote the line had imported it too."""

    line: int
    draft: Draft
    foreign: bool


_Entry = Record | _Fitting | _Practice | None


class Importer:
    """Takes lines into ``store``; ``counts`` tells how many of them came to what."""

    def __init__(
        self, store: Store, book: Callable[[], Rulebook], followed: Callable[[str], Followed] | None = None
    ) -> None:
        """``book`` gives the rulebook for fittings; it is asked for only where there are some.

        ``followed`` gives the assessment of an id that a fitting follows, and raises FitcheckError where none can be
        followed; without it, none can.
        """
        self.counts: Counter[What] = Counter()
        self._store = store
        self._book = book
        self._waiting: list[_Waiting] = []
        self._size = 0
        self._followed = followed
        self._origin = str(uuid.uuid4())

    def take(self, stream: BinaryIO, form: Format) -> Iterator[BadLine]:
        """Take in the whole stream; what was not taken in comes back as it goes.

        Its records are taken to be of one store, in their order; so a stream that begins with records known here goes
        on where these came from. What came before is kept even where this is broken off. Raises StoreError, and
        BadInput where the stream has no such lines at all.
        """
        for line, read in (_in_csv if form == "csv" else _in_ndjson)(stream):
            try:
                entry = read()
                if isinstance(entry, _Fitting):
                    # So that records stay in the order of their lines.
                    yield from self._keep_waiting()
                    self._assess(entry)
                elif isinstance(entry, _Practice):
                    self._keep_practice(entry)
                elif entry is not None:
                    self._wait(line, entry)
            except BadInput as error:
                yield self._bad_line(line, error.problems[0])
            if len(self._waiting) >= _AT_ONCE or self._size >= _BYTES_AT_ONCE:
                yield from self._keep_waiting()
        yield from self._keep_waiting()

    def _bad_line(self, line: int, problem: Problem) -> BadLine:
        self.counts["bad"] += 1
        return BadLine(line, problem)

    def _wait(self, line: int, record: Record) -> None:
        if record.erased or record.kind == "erasure":
            self.counts["erased"] += 1
            return
        check_content(record)
        draft = Draft(**{name: getattr(record, name) for name in _DRAFTED} | {"source": record.digest})
        self._waiting.append(_Waiting(line, draft, foreign=record.source is not None))
        self._size += len(draft.received) + len(draft.answer)

    def _keep_waiting(self) -> Iterator[BadLine]:
        waiting, self._waiting, self._size = self._waiting, [], 0
        if not waiting:
            return
        new: list[_Waiting] = []
        known = self._store.known_ids(each.draft.id for each in waiting)
        for each in waiting:
            if each.draft.id in known:
                yield from self._known(each.line, each.draft)
            else:
                new.append(each)
        if not new:
            return
        before = self._store.origins_of(
            each.draft.id for each in waiting if each.draft.id in known and not each.foreign
        )
        self._origin = next(iter(before.values()), self._origin)
        try:
            self.counts["kept"] += len(
                self._store.keep_many([each.draft for each in new], origins=[self._origin_of(each) for each in new])
            )
        except (AlreadyStored, UnknownRecord):
            # One of them cannot be kept: find out which.
            for each in new:
                yield from self._keep_one(each)

    def _origin_of(self, waiting: _Waiting) -> str:
        # Of what that store had imported itself, it did not know the order either.
        return f"{self._origin}:imported" if waiting.foreign else self._origin

    def _keep_one(self, waiting: _Waiting) -> Iterator[BadLine]:
        line, draft, _ = waiting
        try:
            self._store.keep_many([draft], origins=[self._origin_of(waiting)])
        except AlreadyStored:
            yield from self._known(line, draft)
        except UnknownRecord:
            detail = "There is no such record in this store. Take that one in first."
            yield self._bad_line(line, Problem("about", draft.about, "the id of a record in this store", detail))
        else:
            self.counts["kept"] += 1

    def _known(self, line: int, draft: Draft) -> Iterator[BadLine]:
        there = self._store.record(draft.id)
        if there is None or there.erased or (there.received, there.answer) == (draft.received, draft.answer):
            self.counts["known"] += 1
            return
        detail = "Another record of that id is in this store. One of the two was changed."
        yield self._bad_line(line, Problem("id", draft.id, "an id that is new, or the same record as here", detail))

    def _keep_practice(self, entry: _Practice) -> None:
        try:
            _, fresh = PracticeSessions(self._store).keep(entry.person, entry.session)
        except RequestErased:
            self.counts["erased"] += 1
        except PracticeReused as error:
            raise BadInput(
                [Problem("id", entry.session.id, "an id that is new, or the same session", str(error))]
            ) from error
        else:
            self.counts["practised" if fresh else "known"] += 1

    def _assess(self, entry: _Fitting) -> None:
        """Assess a fitting and keep it, unless its very bytes were taken in before."""
        digest = "sha256:" + hashlib.sha256(entry.raw).hexdigest()
        key = Idempotency(digest, _SCOPE, digest)
        try:
            if self._store.answered(key) is not None:
                self.counts["known"] += 1
                return
        except RequestErased:
            self.counts["erased"] += 1
            return
        book = self._book()
        following = self._following(entry.document, book)
        fitting = parse_fitting(entry.document, book) if following is None else following.fitting
        try:
            assessment = assess(following or fitting, book)
        except EngineFault as error:
            detail = f"This fitting could not be assessed: {error}."
            raise BadInput([Problem(WHOLE, None, "a fitting that the rules can be run on", detail)]) from error
        try:
            fresh = self._store.keep(draft_of(entry.raw, fitting, assessment), key).fresh
        except VisitOfAnotherHorse as error:
            raise BadInput(
                [Problem(error.field, error.here, f"{error.there}, or another visit", str(error))]
            ) from error
        self.counts["assessed" if fresh else "known"] += 1

    def _following(self, document: object, book: Rulebook) -> Following | None:
        """The fitting in ``document`` where it follows an assessment that can be followed. Raises BadInput."""
        id_ = document.get(_FOLLOWS) if isinstance(document, dict) else None
        if self._followed is None or not isinstance(id_, str):
            return None
        try:
            before = self._followed(id_)
        except StoreError:
            raise
        except FitcheckError as error:
            raise BadInput([Problem(_FOLLOWS, summary(id_), "the id of an assessment here", str(error))]) from error
        return follow(document, before, book)


def _in_ndjson(stream: BinaryIO) -> Iterator[tuple[int, Callable[[], _Entry]]]:
    """Each line's number, and how it is read; reading raises BadInput."""
    for line in portable.raw_lines(stream):

        def read(line: portable.RawLine = line) -> _Entry:
            found = portable.object_in(line)
            if portable.BACKUP_KEY in found:
                return None
            if PRACTICE_KEY in found:
                return _Practice(*practice_in(found))
            if line.raw is not None and _FITTING_KEY in found:
                return _Fitting(line.raw, found)
            return record_of(found)

        yield line.number, read


def _in_csv(stream: BinaryIO) -> Iterator[tuple[int, Callable[[], _Entry]]]:
    for row in spreadsheet.rows_in(stream):

        def read(row: spreadsheet.Row = row) -> _Entry:
            if isinstance(row.cells, Problem):
                raise BadInput([row.cells])
            return record_of(spreadsheet.fields_in(row.cells))

        yield row.number, read


_DRAFTED: Final = tuple(each.name for each in fields(Draft))
