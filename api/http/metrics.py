"""What the service counts of itself, for Prometheus; nothing in it tells of a horse, a person or a key.

Counts are the process's own.  Where ``PROMETHEUS_MULTIPROC_DIR`` names a folder when this module is imported, each
server process writes its counts there, and any of them shows the sum over all.
"""

from __future__ import annotations

import os
from typing import Final, get_args

from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

from api.http.request_notes import RequestNote
from fitcheck.assessment.models import Decision

__all__ = [
    "MEDIA_TYPE",
    "MULTIPROCESS",
    "count_decision",
    "count_dropped",
    "count_engine_fault",
    "count_lost_uses",
    "count_rate_limited",
    "count_request",
    "count_store_error",
    "exposition",
]

MEDIA_TYPE: Final = CONTENT_TYPE_LATEST
MULTIPROCESS: Final = "PROMETHEUS_MULTIPROC_DIR"
"""The environment setting that prometheus-client reads: the folder where server processes put their counts together."""

_BUCKETS_S: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0)
_registry: Final = CollectorRegistry()
_requests: Final = Counter(
    "fitcheck_requests",
    "Requests answered, by route, method and HTTP status (0: no answer was begun).",
    ("route", "method", "status"),
    registry=_registry,
)
_seconds: Final = Histogram(
    "fitcheck_request_seconds",
    "Time from a request to the end of its answer.",
    ("route", "method"),
    buckets=_BUCKETS_S,
    registry=_registry,
)
_assessments: Final = Counter(
    "fitcheck_assessments", "Fittings assessed, by decision.", ("decision",), registry=_registry
)
_engine_faults: Final = Counter(
    "fitcheck_engine_faults", "Fittings of which there is no assessment, for the rules did not run.", registry=_registry
)
_store_errors: Final = Counter(
    "fitcheck_store_errors", "Requests that failed for the record store, by the error.", ("error",), registry=_registry
)
_rate_limited: Final = Counter("fitcheck_rate_limited", "Requests refused for coming too fast.", registry=_registry)
_dropped: Final = Counter(
    "fitcheck_dropped_connections",
    "Connections dropped: for clients that were slow with a head or a body, in reading or going, and for too many.",
    ("why",),
    registry=_registry,
)
_lost_uses: Final = Counter("fitcheck_lost_key_uses", "Uses of keys that the audit could not keep.", registry=_registry)

_decided: Final = {decision: _assessments.labels(decision) for decision in get_args(Decision)}
_by_request: Final[dict[tuple[str, str, int], tuple[Counter, Histogram]]] = {}
"""Looking a counter up by its labels costs more than counting; there are only as many as routes and statuses."""


def count_request(note: RequestNote) -> None:
    """One request that is over."""
    key = (note.route, note.method, note.status)
    found = _by_request.get(key)
    if found is None:
        found = _requests.labels(note.route, note.method, note.status), _seconds.labels(note.route, note.method)
        _by_request[key] = found
    requests, seconds = found
    requests.inc()
    seconds.observe(note.ms / 1e3)


def count_decision(decision: Decision) -> None:
    """One fitting assessed."""
    _decided[decision].inc()


def count_engine_fault() -> None:
    """One fitting that the rules did not come to an end with."""
    _engine_faults.inc()


def count_store_error(error: str) -> None:
    """One request that failed with this error of the store."""
    _store_errors.labels(error).inc()


def count_rate_limited() -> None:
    """One request that came too fast."""
    _rate_limited.inc()


def count_dropped(why: str) -> None:
    """One connection that the service ended."""
    _dropped.labels(why).inc()


def count_lost_uses(number: int) -> None:
    """So many uses of keys that are in no audit."""
    _lost_uses.inc(number)


def exposition() -> bytes:
    """All counts in Prometheus' text format; over all server processes where they put them together."""
    if MULTIPROCESS not in os.environ:
        return generate_latest(_registry)
    together = CollectorRegistry()
    MultiProcessCollector(together)  # type: ignore[no-untyped-call]  # the library leaves this one untyped
    return generate_latest(together)
