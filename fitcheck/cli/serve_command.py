"""``fitcheck serve``: the HTTP service."""

from __future__ import annotations

import argparse

from fitcheck.cli.rulebook_option import add_rulebook_option, chosen_book, set_for_service

__all__ = ["APPLICATION", "configure"]

APPLICATION = "api.application:create_app"
"""Where the server finds the application; named, not imported, since api rests on fitcheck and not the reverse."""


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: this machine only)")
    parser.add_argument("--port", type=int, default=8750, help="port to listen on (default: 8750)")
    parser.add_argument("--workers", type=int, default=1, help="server processes (default: 1)")
    add_rulebook_option(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Serve until told to stop."""
    import uvicorn  # noqa: PLC0415  (heavy: only for this command)

    chosen_book(options, judging=True)  # a faulty one is told here, not by each server process
    with set_for_service(options):
        uvicorn.run(
            APPLICATION,
            factory=True,
            host=options.host,
            port=options.port,
            workers=options.workers if options.workers > 1 else None,
            server_header=False,
        )
    return 0
