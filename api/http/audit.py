"""The audit of keys: each use is written to the store in the background, so that no request waits for it."""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Final

from api.http.metrics import count_lost_uses
from api.http.request_notes import RequestNote
from fitcheck.records.errors import StoreError
from fitcheck.records.keys import KeyUse
from fitcheck.vocabulary import utc

__all__ = ["KeyUses"]

_MOST: Final = 10_000
_AT_ONCE: Final = 1000
_EVERY_S: Final = 1.0
_logger = logging.getLogger(__name__)


class KeyUses:
    """Gathers uses and hands them to ``keep`` in batches, from a thread of its own between ``start`` and ``stop``.

    While the store does not take them, ``most`` uses wait for it in memory; what comes beyond is lost, which is counted
    and logged.
    """

    def __init__(self, keep: Callable[[Sequence[KeyUse]], None], most: int = _MOST, every_s: float = _EVERY_S) -> None:
        self._keep = keep
        self._most = most
        self._every_s = every_s
        self._waiting: deque[KeyUse] = deque()
        self._shutting_down = threading.Event()
        self._thread: threading.Thread | None = None
        self._failing = False

    def note(self, note: RequestNote) -> None:
        """A request that is over; only one that showed a key is a use."""
        if not note.key:
            return
        if len(self._waiting) >= self._most:
            count_lost_uses(1)
            return
        came = datetime.fromtimestamp(time.time() - note.ms / 1e3, UTC)
        self._waiting.append(KeyUse(note.key, utc(came), note.id, note.method, note.route, note.status))

    def start(self) -> None:
        """Begin to write."""
        self._shutting_down.clear()
        self._thread = threading.Thread(target=self._run, name="key-uses", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Write what is left, and end."""
        self._shutting_down.set()
        if self._thread is not None:
            self._thread.join()
        if self._waiting:
            count_lost_uses(len(self._waiting))
            _logger.error("%d uses of keys could not be kept for the audit", len(self._waiting))

    def _run(self) -> None:
        while not self._shutting_down.wait(self._every_s):
            self._write()
        self._write()

    def _write(self) -> None:
        while self._waiting:
            uses = [self._waiting.popleft() for _ in range(min(_AT_ONCE, len(self._waiting)))]
            try:
                self._keep(uses)
            except StoreError as error:
                self._waiting.extendleft(reversed(uses))
                if not self._failing:
                    _logger.warning("uses of keys wait for the record store: %s", type(error).__name__)
                self._failing = True
                return
            except Exception:
                count_lost_uses(len(uses))
                _logger.exception("%d uses of keys could not be kept for the audit", len(uses))
            else:
                self._failing = False
