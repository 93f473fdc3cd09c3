"""``fitcheck serve``: the HTTP service."""

from __future__ import annotations

import argparse
import ipaddress
import os
import resource
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from tempfile import TemporaryDirectory
from typing import Any, Final

import uvicorn

from fitcheck.cli import BAD_USAGE, FAILED
from fitcheck.cli.options import add_rulebook_option, book_in_language, chosen_book, set_for_service
from fitcheck.cli.record_options import add_records_option, chosen_store
from fitcheck.records import SETTING, StoreError, default_url
from fitcheck.records.keys import AccessKeys
from fitcheck.settings import BadSetting, ServiceSettings, is_this_machine

__all__ = ["APPLICATION", "configure"]

APPLICATION: Final = "api.application:create_app"
"""Where a server finds the application; named, not imported, since api rests on fitcheck."""

_SERVICE: Final = "api.service:create_service"
"""Where the servers find the service, which reads from the environment what was chosen here."""
_CONNECTION: Final = "api.http.connections:Connection"
_LOOP: Final = "api.http.connections:event_loop"
_FILES: Final = 16384
"""How many files the service asks to be allowed to open: each connection is one."""
_COUNTS: Final = "PROMETHEUS_MULTIPROC_DIR"
_HOST: Final = "FITCHECK_HOST"
_PORT: Final = "FITCHECK_PORT"
_WORKERS: Final = "FITCHECK_WORKERS"
_PROXIES: Final = "FITCHECK_TRUST_PROXY"
"""Settings of the environment that stand for options where these are not given."""
_LET_GO_S: Final = 30
"""How long requests that are under way may take to end when the service is told to stop."""
_KEEP_ALIVE_S: Final = 75
"""How long a connection at rest is kept: longer than proxies keep theirs (60 s in examples/operating), so that no
request is sent over one that is just being closed.  One at rest gives way where there are too many."""
_LOG: Final[dict[str, Any]] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": "api.http.log.JsonLines"}},
    "handlers": {"stderr": {"class": "api.http.log.LogHandler", "formatter": "json"}},
    "root": {"level": "WARNING", "handlers": ["stderr"]},
    "loggers": {name: {"level": "INFO"} for name in ("api", "fitcheck", "uvicorn")},
}
"""Everything as JSON to standard error, a line for each request among it; the server's own log of requests is off."""


class _Refused(Exception):
    """Why the service is not started, and the exit status for that."""

    def __init__(self, why: str, status: int = BAD_USAGE) -> None:
        self.status = status
        super().__init__(why)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "--host",
        default=os.environ.get(_HOST) or "127.0.0.1",
        help=f"address to listen on (default: what {_HOST} names, else this machine only)",
    )
    parser.add_argument(
        "--port",
        type=_number_of(_PORT),
        default=os.environ.get(_PORT) or "8750",
        help=f"port to listen on (default: what {_PORT} says, else 8750)",
    )
    parser.add_argument(
        "--workers",
        type=_number_of(_WORKERS),
        default=os.environ.get(_WORKERS) or "1",
        help=f"server processes (default: what {_WORKERS} says, else 1)",
    )
    parser.add_argument(
        "--keys-required",
        action="store_true",
        help="answer nobody without an access key; so it is anyway for another host than this machine, behind a proxy, "
        "and once a key was made",
    )
    parser.add_argument(
        "--rate",
        type=float,
        metavar="N",
        help="requests a second that each key, or client without one, may send over time; 0 sets no limit (default: "
        f"{ServiceSettings().rate:g}). Each server process counts for itself; without keys there is no limit.",
    )
    parser.add_argument(
        "--trust-proxy",
        metavar="ADDRESSES",
        type=_addresses,
        default=os.environ.get(_PROXIES) or None,
        help="IP addresses or networks, parted by commas, of proxies whose X-Forwarded-For is believed (default: what "
        f"{_PROXIES} names, else none)",
    )
    parser.add_argument(
        "--behind-tls",
        action="store_true",
        help="clients come over TLS, which a proxy ends: tell browsers to keep to it (Strict-Transport-Security)",
    )
    parser.add_argument(
        "--rank-eyes",
        action="store_true",
        help="eyes side by side at the desk stand in the order of their errors; without it in the order of ids, and "
        "nobody is ranked",
    )
    add_records_option(parser)
    add_rulebook_option(parser)
    parser.set_defaults(run=run, language=None)


def run(options: argparse.Namespace) -> int:
    """Serve until told to stop."""
    # A faulty one, or a language that it does not have, is told here, not by each server process.
    book_in_language(options, chosen_book(options, judging=True))
    try:
        settings = _settings(options)
    except _Refused as error:
        print(f"fitcheck serve: {error}", file=sys.stderr)
        return error.status
    with ExitStack() as stack:
        if options.workers > 1 and _COUNTS not in os.environ:
            settings[_COUNTS] = stack.enter_context(TemporaryDirectory(prefix="fitcheck-counts-"))
        stack.enter_context(set_for_service(options))
        stack.enter_context(_set(settings))
        _allow_files()
        uvicorn.run(
            _SERVICE,
            factory=True,
            host=options.host,
            port=options.port,
            workers=options.workers if options.workers > 1 else None,
            server_header=False,
            access_log=False,
            log_config=_LOG,
            proxy_headers=options.trust_proxy is not None,
            forwarded_allow_ips=options.trust_proxy or "",
            timeout_keep_alive=_KEEP_ALIVE_S,
            timeout_graceful_shutdown=_LET_GO_S,
            http=_CONNECTION,
            loop=_LOOP,
        )
    return 0


def _allow_files() -> None:
    """Have this process and those that it starts open as many files as the system lets them, up to _FILES."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft != resource.RLIM_INFINITY and soft < _FILES:
        most = _FILES if hard == resource.RLIM_INFINITY else min(_FILES, hard)
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))


def _settings(options: argparse.Namespace) -> dict[str, str]:
    """What the server processes read, checked; the store is there when this returns.

    Raises _Refused.
    """
    try:
        operation = ServiceSettings.from_settings(os.environ)
    except BadSetting as error:
        raise _Refused(str(error)) from error
    if options.workers < 1:
        raise _Refused(f"--workers {options.workers}: there must be 1 at least.")
    if options.rate is not None and not 0 <= options.rate < float("inf"):
        raise _Refused(f"--rate {options.rate:g}: write a number of requests a second, 0 or more.")
    reached = options.trust_proxy is not None or not is_this_machine(options.host)
    operation = replace(
        operation,
        keys_required=operation.keys_required or options.keys_required or reached,
        rate=operation.rate if options.rate is None else options.rate,
        behind_tls=operation.behind_tls or options.behind_tls,
        rank_eyes=operation.rank_eyes or options.rank_eyes,
    )
    try:
        with chosen_store(options) as store:
            usable = AccessKeys(store).any_usable()
            where = store.url
    except StoreError as error:
        raise _Refused(str(error), FAILED) from error
    if operation.keys_required and not usable:
        who = f"on {options.host}, where other machines reach it," if reached else "with keys required"
        raise _Refused(
            f"The service does not start {who} without an access key in {where}. Make one first: fitcheck keys make "
            "--device NAME --scope assess --scope read"
        )
    return operation.as_settings() | {SETTING: options.records or default_url()}


@contextmanager
def _set(settings: dict[str, str]) -> Iterator[None]:
    """For as long as the block runs, the environment has ``settings``."""
    before = {name: os.environ.get(name) for name in settings}
    os.environ.update(settings)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _number_of(setting: str) -> Callable[[str], int]:
    """How the option that ``setting`` stands for is read."""

    def read(text: str) -> int:
        if not text.isascii() or not text.isdecimal():
            raise argparse.ArgumentTypeError(f"{text!r} is no whole number; it may come from {setting}")
        return int(text)

    return read


def _addresses(text: str) -> str:
    for each in text.split(","):
        try:
            ipaddress.ip_network(each.strip())
        except ValueError:
            raise argparse.ArgumentTypeError(
                f"{each.strip()!r} is no IP address or network; it may come from {_PROXIES}"
            ) from None
    return text
