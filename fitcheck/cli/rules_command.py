"""``fitcheck rules``: check a rulebook, list its rules, show one in full, or the whole as a page."""

from __future__ import annotations

import argparse
import json
import sys
from typing import TYPE_CHECKING

from fitcheck.cli import BAD_USAGE, rules_check, rules_compare, rules_diff, rules_new
from fitcheck.cli.options import add_language_option, add_rulebook_option, book_in_language, chosen_book, paint_for
from fitcheck.report.rule_text import case_lines, rule_lines, rule_summary
from fitcheck.report.rulebook_page import rulebook_page
from fitcheck.rulebooks.record_toml import record_toml
from fitcheck.text.catalogue import messages_of
from rules.lazy import lazily

if TYPE_CHECKING:
    from difflib import get_close_matches
else:
    get_close_matches = lazily("difflib", "get_close_matches")

__all__ = ["configure"]


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    actions = parser.add_subparsers(dest="action", required=True)
    rules_check.configure(actions.add_parser("check", help="load a rulebook strictly, compile it and analyse it"))
    rules_new.configure(actions.add_parser("new", help="a book of your own to begin with, over the shipped one"))
    listing = actions.add_parser("list", help="every rule in a line")
    add_rulebook_option(listing)
    add_language_option(listing)
    listing.set_defaults(run=_list)
    show = actions.add_parser("show", help="one rule in full, with its sources and its cases")
    show.add_argument("id", metavar="ID", help="a rule's id, as in the list; with --toml a quantity's too")
    show.add_argument("--toml", action="store_true", help="as TOML, ready to be laid over in a book of your own")
    add_rulebook_option(show)
    add_language_option(show)
    show.set_defaults(run=_show)
    page = actions.add_parser("page", help="the whole rulebook as one page to read, in Markdown")
    add_rulebook_option(page)
    add_language_option(page)
    page.set_defaults(run=_page)
    rules_diff.configure(actions.add_parser("diff", help="what differs between two rulebooks"))
    rules_compare.configure(actions.add_parser("compare", help="the same fittings under two rulebooks"))


def _list(options: argparse.Namespace) -> int:
    book = book_in_language(options, chosen_book(options))
    for rule_id in (*book.rules, *book.joined):
        print(rule_summary(rule_id, book))
    for rule_id, why in book.off.items():
        print(f"{rule_id:<30} {messages_of(book).say('rules.off', why=why)}")
    return 0


def _show(options: argparse.Namespace) -> int:
    book = chosen_book(options) if options.toml else book_in_language(options, chosen_book(options))
    if options.id in book.off:
        why, say = book.off[options.id], messages_of(book).say
        print(say("rules.is_off", rule=options.id, book=book.title, version=book.version, why=why))
        return 0
    if options.toml and (options.id in book.quantities or options.id in book.rules or options.id in book.joined):
        print(record_toml(options.id, book), end="")
        return 0
    if options.id not in book.rules and options.id not in book.joined:
        names = (*book.rules, *book.joined)
        near = [rule_id for rule_id in names if options.id.split("-")[0] in rule_id]
        near = near or get_close_matches(options.id, names)
        hint = f" Near it: {', '.join(near)}." if near else ""
        if options.id in book.quantities:
            hint = " It is a quantity: --toml shows it."
        print(
            f"fitcheck rules show: no rule {json.dumps(options.id)}.{hint} 'fitcheck rules list' has them all.",
            file=sys.stderr,
        )
        return BAD_USAGE
    lines = [*rule_lines(options.id, book, paint=paint_for(sys.stdout)), *case_lines(options.id, book)]
    print("\n".join(lines))
    return 0


def _page(options: argparse.Namespace) -> int:
    print(rulebook_page(book_in_language(options, chosen_book(options))), end="")
    return 0
