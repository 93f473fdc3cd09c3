"""A client's own book of what it sent and what it was answered, held against the store."""

from __future__ import annotations

import hashlib
import json
import threading
import uuid
from collections import Counter, deque
from dataclasses import dataclass
from itertools import count
from typing import Any, Final

from fitcheck.records import EMPTY, Head, Store, verify
from tests.endurance.report import Report
from tests.support.kept_fittings import demo_bodies

__all__ = ["Ledger", "Sent"]

_AT_ONCE: Final = 500
_REMEMBERED: Final = 5


@dataclass(frozen=True, slots=True)
class Sent:
    """One fitting that was sent, unlike any other; ``key``: its Idempotency-Key, empty for a line of a batch."""

    body: bytes
    key: str
    query: str = ""


class Ledger:
    """Everything that was sent, and everything that was said to be kept. Safe for many threads."""

    def __init__(self, report: Report) -> None:
        self.report: Final = report
        self.unanswered: list[Sent] = []
        """Requests of which nothing is known: they are to be sent again."""
        self.answered: Final[deque[Sent]] = deque(maxlen=_REMEMBERED)
        """The last requests with a key that were answered: to be sent again all the same."""
        self._lock = threading.Lock()
        self._numbers = count(1)
        self._fittings = [
            document for body in demo_bodies() if "outline" not in _observed(document := json.loads(body))
        ]
        self._said: dict[str, bytes] = {}
        """By id, the digest of what was answered."""
        self._id_of: dict[bytes, str] = {}
        """By the body's digest, the id that it was answered."""
        self._sent: set[bytes] = set()
        self._kept: dict[str, bytes] = {}
        self._times: Counter[bytes] = Counter()
        self._head: Head = EMPTY
        self._proved: Head = EMPTY

    def new(self, *, keyed: bool, query: str = "", corrected: Sent | None = None) -> Sent:
        """A fitting to send, of a horse that no other is of, or of that of what is to be ``corrected``."""
        with self._lock:
            number = next(self._numbers)
            fitting = self._fittings[number % len(self._fittings)]
            document = fitting | {"horse": {"id": f"H-{number}"}, "visit": f"visit {number}"}
            if corrected is not None:
                document = json.loads(corrected.body) | {"notes": f"corrected as number {number}"}
            body = json.dumps(document).encode()
            self._sent.add(_digest(body))
        return Sent(body, str(uuid.uuid4()) if keyed else "", query)

    def acknowledge(self, sent: Sent, answer: bytes) -> str:
        """Note that ``sent`` was said to be kept, with this answer; the assessment's id."""
        id_ = str(json.loads(answer)["id"])
        body, said = _digest(sent.body), _digest(answer)
        with self._lock:
            if self._id_of.setdefault(body, id_) != id_:
                self.report.fault(f"one request was answered with two assessments: {self._id_of[body]} and {id_}")
            if self._said.setdefault(id_, said) != said:
                self.report.fault(f"assessment {id_} was answered once so and once otherwise: {answer!r}")
            if sent.key:
                self.answered.append(sent)
        return id_

    def doubt(self, sent: Sent) -> None:
        """Note that nothing came of ``sent`` that tells whether it was kept."""
        with self._lock:
            self.unanswered.append(sent)

    def take_unanswered(self) -> list[Sent]:
        """What is to be sent again; it is no longer noted as such."""
        with self._lock:
            taken, self.unanswered = self.unanswered, []
        return taken

    def is_kept(self, sent: Sent) -> bool:
        """Whether the store had it when it was last checked."""
        return self._times[_digest(sent.body)] > 0

    def last_acknowledged(self, most: int) -> list[str]:
        """The ids of at most so many assessments that were said to be kept, the last ones."""
        with self._lock:
            return list(self._said)[-most:]

    def is_answer(self, id_: str, answer: bytes) -> bool:
        """Whether ``answer`` is what was said of that assessment."""
        return self._said[id_] == _digest(answer)

    def check(self, store: Store) -> None:
        """Follow the feed from where it was left; nothing may be under way. Raises StoreError."""
        while records := store.following(self._head.number, _AT_ONCE):
            for record in records:
                if (record.number, record.previous) != (self._head.number + 1, self._head.digest):
                    self.report.fault(f"record {record.number} does not follow {self._head}")
                self._head = Head(record.number, record.digest)
                body = _digest(record.received)
                self._kept[record.id] = _digest(record.answer)
                self._times[body] += 1
                if body not in self._sent:
                    self.report.fault(f"record {record.number} was never sent: {record.received!r}")
                if self._times[body] > 1:
                    self.report.fault(f"record {record.number} is there before: {record.received!r}")
                if self._id_of.get(body, record.id) != record.id:
                    self.report.fault(f"record {record.number} has another id than its answer, {self._id_of[body]}")
        if store.head() != self._head:
            self.report.fault(f"the head is {store.head()}, yet the feed ends at {self._head}")
        lost = [id_ for id_, said in self._said.items() if self._kept.get(id_) != said]
        if lost:
            self.report.fault(f"{len(lost)} assessments were acknowledged and are not there as answered: {lost[:3]}")

    def prove(self, store: Store) -> None:
        """Verify the whole chain, with the head of the time before. Raises StoreError."""
        expected = None if self._proved == EMPTY else self._proved
        for fault in verify(store, expected=expected):
            self.report.fault(f"verify: {fault}")
        self._proved = store.head()
        self.report.count("times verified")

    def sums(self) -> None:
        """Put into the report how much there was."""
        self.report.figures |= {
            "records": self._head.number,
            "acknowledged": len(self._said),
            "kept without the client knowing": self._head.number - len(self._said),
        }


def _observed(document: dict[str, Any]) -> dict[str, Any]:
    readings_of: dict[str, Any] = document["observations"]
    return readings_of


def _digest(raw: bytes) -> bytes:
    return hashlib.sha256(raw).digest()
