"""``fitcheck rules new``: a book of one's own to begin with."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from fitcheck.cli import BAD_USAGE, FAILED
from fitcheck.rulebooks.new_book import new_book, plain_name
from rules import shipped_rulebook

__all__ = ["configure"]


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "folder", metavar="DIR", type=Path, help="folder to write the book into; made if it is not there"
    )
    parser.add_argument("--id", metavar="NAME", help="the book's short name (default: the folder's)")
    parser.add_argument("--title", metavar="TEXT", help="what the book is called (default: of its short name)")
    parser.epilog = (
        "Exit status: 0 written, 64 bad usage (a book is there already), 70 the folder cannot be written to."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write the book's files; none that is there is written over."""
    folder: Path = options.folder
    shipped = shipped_rulebook()
    name = plain_name(options.id or folder.resolve().name)
    if not name or name == shipped.id:
        print("fitcheck rules new: the book needs a short name of its own. Give --id NAME", file=sys.stderr)
        return BAD_USAGE
    title = options.title or f"Fitting rules of {name.replace('-', ' ').title()}"
    if any(character < " " for character in title):
        print("fitcheck rules new: the title has a line break or the like in it. Write it in one line", file=sys.stderr)
        return BAD_USAGE
    files = new_book(name, title, shipped)
    try:
        if folder.is_dir() and any(folder.glob("*.toml")):
            print(f"fitcheck rules new: {folder} has a rulebook already. Name another folder", file=sys.stderr)
            return BAD_USAGE
        folder.mkdir(parents=True, exist_ok=True)
        for file, text in files.items():
            (folder / file).write_text(text, encoding="utf-8")
    except OSError as error:
        print(f"fitcheck rules new: {folder} cannot be written to: {error.strerror}", file=sys.stderr)
        return FAILED
    print(f"{folder}: {', '.join(files)}. Read them, change what is yours, then: fitcheck rules check {folder}")
    return 0
