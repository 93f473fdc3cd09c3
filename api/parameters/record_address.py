"""Where an assessment that was kept is, and the entity tag of its record."""

from __future__ import annotations

from urllib.parse import quote

from fitcheck.records import Record

__all__ = ["address_of", "etag_of"]


def address_of(id_: str) -> str:
    """Where the assessment of that id is."""
    return f"/v1/assessments/{quote(id_, safe='')}"


def etag_of(record: Record) -> str:
    """The record's digest as an entity tag."""
    return f'"{record.digest}"'
