"""The option ``--records`` and the store that it names."""

from __future__ import annotations

import argparse

from fitcheck.records import SETTING, Store, default_url, open_store

__all__ = ["add_records_option", "chosen_store"]


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
