"""Headers of a request, one by one: where few are asked for, that is quicker than a mapping of all of them."""

from __future__ import annotations

from starlette.requests import Request

__all__ = ["first_value", "values"]


def values(request: Request, name: bytes) -> list[str]:
    """Every value of the header ``name``, which is given in lower case, in the order in which they were sent."""
    return [value.decode("latin-1") for given, value in request.scope["headers"] if given == name]


def first_value(request: Request, name: bytes, default: str) -> str:
    """The first value of the header ``name``, or ``default`` where it was not sent."""
    found = values(request, name)
    return found[0] if found else default
