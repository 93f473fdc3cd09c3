"""What is made of kept records for those who review the work: drawings, reports, overrides, marks, agreement."""

from __future__ import annotations

from fastapi import FastAPI

from api.desk.marking import add_marking
from api.desk.pages import add_pages
from api.desk.sign_in import add_signing_in
from api.desk.spreadsheet import add_spreadsheet
from api.http.limits import Limits
from api.routes.agreement import add_agreement
from api.routes.eye import add_eye
from api.routes.hand_marks import add_hand_marks
from api.routes.marks import add_marks, add_progress
from api.routes.overrides import add_overrides
from api.routes.reports import add_drawings, add_reports
from api.store import AsyncStore
from fitcheck.settings import ServiceSettings
from rules import Rulebook

__all__ = ["add_desk"]


def add_desk(app: FastAPI, async_store: AsyncStore, book: Rulebook, limits: Limits, settings: ServiceSettings) -> None:
    """Add the routes that show what is made of the records in ``async_store``; ``book`` is the service's rulebook."""
    add_drawings(app, async_store, book)
    add_reports(app, async_store, book)
    add_overrides(app, async_store, book, limits)
    add_hand_marks(app, async_store)
    add_marks(app, async_store, book)
    add_progress(app, async_store, book)
    add_eye(app, async_store, book)
    add_agreement(app, async_store, book)
    add_spreadsheet(app, async_store)
    add_pages(app, async_store, book, settings)
    add_marking(app, async_store, book)
    add_signing_in(app, async_store, settings)
