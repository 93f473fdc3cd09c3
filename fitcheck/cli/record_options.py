"""The option ``--records`` and the store that it names."""

from __future__ import annotations

import argparse
import re
from datetime import datetime
from typing import Final, get_args

from fitcheck.assessment.models import Decision
from fitcheck.fitting.models import FittedFoot
from fitcheck.records import SETTING, Kind, RecordFilter, Store, default_url, open_store

__all__ = ["add_filters", "add_records_option", "chosen_records", "chosen_store", "parsed_time"]


def add_records_option(parser: argparse.ArgumentParser) -> None:
    """Add ``--records URL``."""
    parser.add_argument(
        "--records",
        metavar="URL",
        help="where records and access keys are kept: sqlite:////folder/file or postgresql://user@server/database "
        f"(default: what {SETTING} names, else a file in the user's data folder)",
    )


def chosen_store(options: argparse.Namespace, *, create: bool = True) -> Store:
    """The store that the option or the setting names; with ``create`` False there must be one. Raises StoreError."""
    return open_store(options.records or default_url(), create=create)


_EQUAL: Final = {
    "person": "fitted by this person",
    "assessor": "assessed by this person",
    "horse": "of this horse",
    "visit": "of this visit",
    "external_system": "with a key of this other system",
    "external_id": "with this key of another system",
}
_TIME: Final = re.compile(r"(\d{4}-\d\d-\d\d)(?:(T\d\d:\d\d:\d\d)(\.\d{1,3})?Z)?", re.ASCII)


def add_filters(parser: argparse.ArgumentParser, *, kinds: bool = True) -> None:
    """Add the options; with ``kinds`` False there are only assessments."""
    group = parser.add_argument_group("which records", "Those for which all of these hold; all records without any.")
    for name, help_text in _EQUAL.items():
        group.add_argument(f"--{name.replace('_', '-')}", metavar="ID", help=help_text)
    group.add_argument("--foot", choices=get_args(FittedFoot), help="of this foot")
    group.add_argument("--decision", choices=get_args(Decision), help="with this decision")
    if kinds:
        group.add_argument("--kind", choices=get_args(Kind), help="of this kind")
    group.add_argument("--since", metavar="TIME", type=parsed_time, help="kept then or later: a day, or UTC with Z")
    group.add_argument(
        "--until", metavar="TIME", type=parsed_time, help="kept before: a day, of which nothing counts, or UTC"
    )
    group.add_argument("--current", action="store_true", help="only what no later assessment corrects")


def chosen_records(options: argparse.Namespace) -> RecordFilter:
    """The records that the options name."""
    return RecordFilter(
        **{name: getattr(options, name) for name in (*_EQUAL, "foot", "decision", "since", "until")},
        kind=getattr(options, "kind", "assessment"),
        superseded=not options.current,
    )


def parsed_time(text: str) -> str:
    """The time as records have it, so that the two can be compared as texts."""
    found = _TIME.fullmatch(text)
    if found is None or not _is_time(text):
        message = f"{text!r} is not a day such as 2026-03-04, or UTC such as 2026-03-04T10:00:00Z"
        raise argparse.ArgumentTypeError(message)
    day, time, part = found.groups()
    return f"{day}{time}{(part or '.').ljust(4, '0')}Z" if time else str(day)


def _is_time(text: str) -> bool:
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True
