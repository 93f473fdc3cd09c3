"""The service as ``fitcheck serve`` runs it: everything that was chosen is read from the environment settings."""

from __future__ import annotations

import os

from fastapi import FastAPI

from api.application import create_app
from fitcheck.settings import ServiceSettings

__all__ = ["create_service"]


def create_service() -> FastAPI:
    """The application with the rulebook, the records and the way of running that the settings name.

    The command has made the store before.  So a process that is started later, in the place of one that ended, makes no
    new one where the file is gone: what it kept there would be lost once the old file is back.  Raises BadSetting or
    RulesError where it cannot be made.
    """
    return create_app(settings=ServiceSettings.from_settings(os.environ), create_store=False)
