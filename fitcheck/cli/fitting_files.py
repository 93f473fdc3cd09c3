"""Fittings from files, and the option ``--follows`` for those that follow another."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from fitcheck.assessment.assess import assess
from fitcheck.assessment.following import Followed, Following, follow
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.strict_json import loads
from fitcheck.fitting.validation import parse_fitting
from rules import Rulebook

__all__ = ["add_follows_option", "fitting_in", "read_file", "whole"]


def add_follows_option(parser: argparse.ArgumentParser) -> None:
    """Add ``--follows FILE``."""
    parser.add_argument(
        "--follows",
        metavar="BEFORE",
        action="append",
        default=[],
        help="the file of the fitting of the same foot before this one: what FILE leaves out stands as it was observed "
        "there; given several times, the oldest first, each follows the one before",
    )


def fitting_in(name: str, book: Rulebook, earlier: Sequence[str] = ()) -> Fitting | Following:
    """The fitting in the file ``name``, which follows those in the files ``earlier``, as ``book`` judges them.

    An assessment that the file names in follows is taken to be that of the last of them. Raises BadInput, in which a
    problem of another file names that file, and rules.EngineFault.
    """
    own_book = book.original or book
    before: Followed | None = None
    document = loads(read_file(name))
    for place, file in enumerate(earlier):
        try:
            found = _after(loads(read_file(file)), before, own_book)
            assessment = assess(found, own_book)
        except BadInput as error:
            raise BadInput([replace(each, field=f"{file}: {each.field}") for each in error.problems]) from error
        if place == len(earlier) - 1 and isinstance(document, dict) and isinstance(document.get("follows"), str):
            assessment = assessment.model_copy(update={"id": document["follows"]})
        before = Followed(whole(found), assessment)
    return _after(document, before, own_book)


def whole(found: Fitting | Following) -> Fitting:
    """The fitting with all that was carried."""
    return found.fitting if isinstance(found, Following) else found


def _after(document: Any, before: Followed | None, book: Rulebook) -> Fitting | Following:
    return parse_fitting(document, book) if before is None else follow(document, before, book)


def read_file(name: str) -> bytes:
    """The bytes of a fitting's file, or of standard input; raises BadInput where they cannot be read."""
    try:
        return sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise BadInput([Problem("(file)", name, "a readable file, or - for standard input", f"{reason}.")]) from error
