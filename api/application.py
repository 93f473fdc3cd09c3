"""The HTTP application: ``create_app`` puts it together for any ASGI server."""

from __future__ import annotations

import asyncio
import gc
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any, Final

from fastapi import FastAPI

from api.desk import add_desk
from api.desk.sign_in import desk_problem
from api.event_feed import EventFeed
from api.http.audit import KeyUses
from api.http.auth import Authenticator
from api.http.compression import CompressedJson
from api.http.headers import fixed_headers
from api.http.key_cache import KeyChecks
from api.http.limits import Limits
from api.http.log import log_request
from api.http.methods import HeadAsGet
from api.http.metrics import count_request
from api.http.problems import ProblemError, handle_faults
from api.http.request_middleware import RequestMiddleware
from api.http.route_scopes import guard
from api.http.shutdown import end_with_supervisor, on_shutdown
from api.http.worker import Worker
from api.openapi.document import GUIDE, build_document
from api.openapi.reference import add_reference_page
from api.page.routes import add_page
from api.parameters.language import add_languages
from api.routes.assess import add_assessments
from api.routes.assessments import add_stored
from api.routes.events import add_events
from api.routes.explanation import add_explanation
from api.routes.health import add_health, add_metrics, self_test
from api.routes.practice import add_practice
from api.routes.problems import add_problem_pages
from api.routes.rulebook import add_rulebook
from api.routes.subscriptions import add_subscriptions
from api.routes.tables import add_tables
from api.routes.visits import add_visits
from api.store import AsyncStore
from api.webhooks.deliveries import Deliveries
from api.webhooks.targets import Targets
from fitcheck import __version__
from fitcheck.fitting.input_value import documented_by
from fitcheck.records import Store, StoreError, default_url
from fitcheck.rulebooks.selection import book_named
from fitcheck.settings import ServiceSettings
from rules import Rulebook

__all__ = ["create_app"]

_logger = logging.getLogger(__name__)
_DEFAULTS: Final = Limits()
_ALONE: Final = ServiceSettings()


class _Application(FastAPI):
    """FastAPI with our own OpenAPI document."""

    book: Rulebook

    def openapi(self) -> dict[str, Any]:
        """The OpenAPI document, built once."""
        if self.openapi_schema is None:
            with documented_by(self.book):
                self.openapi_schema = build_document(self, self.book)
        return self.openapi_schema


def create_app(
    book: Rulebook | None = None,
    limits: Limits = _DEFAULTS,
    *,
    settings: ServiceSettings = _ALONE,
    store: Store | None = None,
    create_store: bool = True,
) -> FastAPI:
    """The application that assesses by ``book`` within ``limits``, for those that ``settings`` lets in.

    Assessments and access keys are kept in ``store``, which is closed when the application ends.  Without one it is
    what the environment setting FITCHECK_RECORDS names, or else a file in the user's data folder.  That is opened when
    it is first needed, and where it cannot be the service starts all the same: see /readyz.  With ``create_store``
    False it must be there.

    Without ``book`` it is the rulebook that the environment setting FITCHECK_RULEBOOK names, and without that the
    shipped one.  Raises rules.RulebookError where it does not load.  A rulebook that loads and yet does not run leaves
    the service alive and not ready: see /readyz.  Raises UndeclaredRoute for a route that does not say who may use it.
    """
    book = book or book_named()
    async_store = AsyncStore(default_url(), create=create_store) if store is None else AsyncStore(store.url, store)
    worker = Worker()
    uses = KeyUses(async_store.note_uses)
    event_feed = EventFeed(async_store)
    async_store.watch(event_feed.notify)
    deliveries = Deliveries(async_store, Targets(settings.webhook_networks))
    async_store.watch(deliveries.notify)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        try:
            # Compiles the rulebook, so that the first request need not wait for it.
            self_test(book)
        except ProblemError:
            _logger.exception("the service starts, but is not ready")
        try:
            await asyncio.to_thread(async_store.start)
        except StoreError:
            _logger.exception("the service starts, but can keep nothing")
        # What is there now stays: the collector of garbage, which stops all threads, need not look through it again.
        gc.collect()
        gc.freeze()
        uses.start()
        deliveries.start()
        with on_shutdown(event_feed.stop), end_with_supervisor():
            yield
        await deliveries.stop()
        await asyncio.to_thread(worker.close)
        await asyncio.to_thread(uses.stop)
        await asyncio.to_thread(async_store.close)

    app = _Application(
        title="fitcheck",
        version=__version__,
        summary="A second pair of eyes on a fitted horseshoe.",
        description=GUIDE,
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        # FastAPI's own would tell of addresses and queries as they were sent, and is looked for at every request.
        telemetry={"tracing": False, "metrics": False, "logs": False},
        lifespan=lifespan,
    )
    app.book = book
    add_languages(app, book)
    add_assessments(app, book, limits, async_store, worker)
    add_stored(app, async_store, book)
    add_desk(app, async_store, book, limits, settings)
    add_explanation(app, async_store, book, worker)
    add_tables(app, async_store)
    add_visits(app, async_store, book)
    add_practice(app, async_store, book, limits)
    add_events(app, event_feed)
    add_subscriptions(app, async_store, deliveries, limits)
    add_rulebook(app, book)
    add_health(app, book, async_store)
    for add in (add_problem_pages, add_metrics, add_reference_page, add_page):
        add(app)
    handle_faults(app, desk_problem)
    guard(app, Authenticator(settings, KeyChecks(async_store)))
    app.add_middleware(CompressedJson)
    app.add_middleware(HeadAsGet)
    app.add_middleware(
        RequestMiddleware,
        fixed=fixed_headers(behind_tls=settings.behind_tls),
        watchers=(count_request, log_request, uses.note),
    )
    return app
