"""``fitcheck keys``: make, list and revoke access keys, and see what they were used for."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Final

from pydantic import TypeAdapter, ValidationError

from fitcheck.cli import BAD_INPUT, BAD_USAGE, FAILED
from fitcheck.cli.record_options import add_records_option, chosen_store
from fitcheck.fitting.identity import OpaqueId
from fitcheck.records import StoreError
from fitcheck.records.keys import MARK, SCOPES, AccessKey, AccessKeys, UnknownKey

__all__ = ["configure"]

_NAME: Final = re.compile(r"\S(?:.{0,98}\S)?")
_SHOWN: Final = 50
_PERSON: Final = TypeAdapter(OpaqueId)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the actions and their options."""
    actions = parser.add_subparsers(dest="action", required=True)
    make = actions.add_parser("make", help="make a key and print it: this once, and never again")
    whose = make.add_mutually_exclusive_group(required=True)
    whose.add_argument("--person", metavar="ID", type=_person, help="the key is this person's, by their opaque id")
    whose.add_argument("--device", "--name", metavar="NAME", type=_name, help="the key is that of a device or program")
    make.add_argument(
        "--until",
        metavar="DAY",
        type=_last_day,
        help="the last day on which it opens anything, such as 2026-12-31 (UTC)",
    )
    make.add_argument(
        "--scope",
        action="append",
        required=True,
        choices=list(SCOPES),
        help="what it opens; may be given several times. "
        + "; ".join(f"{name}: {does}" for name, does in SCOPES.items()),
    )
    listing = actions.add_parser("list", help="list all keys, without what opens anything")
    revoke = actions.add_parser("revoke", help="revoke a key for good; running services refuse it within 5 seconds")
    revoke.add_argument("id", metavar="ID", help="the key's id, as in the list")
    uses = actions.add_parser("uses", help="show what keys were used for, the latest first")
    uses.add_argument("id", metavar="ID", nargs="?", help="of this key only")
    uses.add_argument("--limit", type=int, default=_SHOWN, help=f"how many at most (default: {_SHOWN})")
    forget = actions.add_parser("forget-uses", help="delete what keys were used for before a day")
    forget.add_argument(
        "--before", metavar="DAY", type=date.fromisoformat, required=True, help="such as 2026-01-01 (UTC)"
    )
    for action, run in ((make, _make), (listing, _list), (revoke, _revoke), (uses, _uses), (forget, _forget)):
        add_records_option(action)
        action.set_defaults(run=_run, act=run)


def _run(options: argparse.Namespace) -> int:
    try:
        with chosen_store(options) as store:
            status: int = options.act(AccessKeys(store), options)
    except UnknownKey as error:
        print(f"fitcheck keys: {error} `fitcheck keys list` shows all keys.", file=sys.stderr)
        return BAD_INPUT
    except StoreError as error:
        print(f"fitcheck keys: {error}", file=sys.stderr)
        return FAILED
    return status


def _make(keys: AccessKeys, options: argparse.Namespace) -> int:
    if options.person is None and MARK in options.scope:
        print("fitcheck keys: marks are a person's: make the key with --person ID.", file=sys.stderr)
        return BAD_USAGE
    key, token = keys.make(
        options.person or options.device,
        options.scope,
        holder="device" if options.person is None else "person",
        until=options.until,
    )
    print(
        f"Key {key.id} ({key.holder} {key.name}) with {_scopes(key)}{_end(key)}. Keep what follows safe: it is shown "
        "this once, and is kept nowhere.",
        file=sys.stderr,
    )
    print(token.text)
    return 0


def _list(keys: AccessKeys, options: argparse.Namespace) -> int:
    rows = [("ID", "OF", "NAME", "SCOPES", "MADE", "UNTIL", "LAST USED", "REVOKED")]
    rows += [
        (
            *(key.id, key.holder, key.name, _scopes(key), key.created),
            *(key.until or "-", key.last_used or "never", key.revoked or "-"),
        )
        for key in keys.every()
    ]
    _print_table(rows)
    return 0


def _revoke(keys: AccessKeys, options: argparse.Namespace) -> int:
    key = keys.revoke(options.id)
    print(f"Key {key.id} ({key.name}) is revoked since {key.revoked}.")
    return 0


def _uses(keys: AccessKeys, options: argparse.Namespace) -> int:
    if options.id is not None and options.id not in {key.id for key in keys.every()}:
        raise UnknownKey(options.id)
    rows = [("AT", "KEY", "STATUS", "METHOD", "ROUTE", "REQUEST")]
    rows += [
        (use.at, use.key, str(use.status or "-"), use.method, use.route, use.request)
        for use in keys.uses(options.id, limit=options.limit)
    ]
    _print_table(rows)
    return 0


def _forget(keys: AccessKeys, options: argparse.Namespace) -> int:
    print(f"{keys.forget_uses(options.before.isoformat())} uses deleted.")
    return 0


def _name(text: str) -> str:
    if not _NAME.fullmatch(text) or not text.isprintable():
        raise argparse.ArgumentTypeError("write 1 to 100 printable characters, with none left blank at either end")
    return text


def _person(text: str) -> str:
    try:
        return _PERSON.validate_python(text)
    except ValidationError as error:
        raise argparse.ArgumentTypeError(error.errors()[0]["msg"]) from None


def _last_day(text: str) -> str:
    day = date.fromisoformat(text)
    if day < datetime.now(UTC).date():
        raise argparse.ArgumentTypeError("this day is over")
    return day.isoformat()


def _end(key: AccessKey) -> str:
    return "" if key.until is None else f", until {key.until}"


def _scopes(key: AccessKey) -> str:
    return ",".join(sorted(key.scopes))


def _print_table(rows: Sequence[tuple[str, ...]]) -> None:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
