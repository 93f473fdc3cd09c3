"""The service as ``fitcheck serve`` runs it: everything that was chosen is read from the environment settings."""

from __future__ import annotations

import os

from fastapi import FastAPI

from api.application import create_app
from fitcheck.settings import ServiceSettings

__all__ = ["create_service"]


def create_service() -> FastAPI:
    """The application with the rulebook, the records and the way of running that the settings name.

    Raises BadSetting or RulesError where it cannot be made.
    """
    return create_app(settings=ServiceSettings.from_settings(os.environ))
