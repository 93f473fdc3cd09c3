"""``fitcheck rules``: check a rulebook, list its rules, show one in full, or the whole as a page."""

from __future__ import annotations

import argparse
import json
import sys

from fitcheck.cli import BAD_USAGE, rules_check, rules_compare, rules_diff
from fitcheck.cli.options import add_rulebook_option, chosen_book, paint_for
from fitcheck.report.rule_text import case_lines, rule_lines, rule_summary
from fitcheck.report.rulebook_page import rulebook_page

__all__ = ["configure"]


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    actions = parser.add_subparsers(dest="action", required=True)
    rules_check.configure(actions.add_parser("check", help="load a rulebook strictly, compile it and analyse it"))
    listing = actions.add_parser("list", help="every rule in a line")
    add_rulebook_option(listing)
    listing.set_defaults(run=_list)
    show = actions.add_parser("show", help="one rule in full, with its sources and its cases")
    show.add_argument("id", metavar="ID", help="a rule's id, as in the list")
    add_rulebook_option(show)
    show.set_defaults(run=_show)
    page = actions.add_parser("page", help="the whole rulebook as one page to read, in Markdown")
    add_rulebook_option(page)
    page.set_defaults(run=_page)
    rules_diff.configure(actions.add_parser("diff", help="what differs between two rulebooks"))
    rules_compare.configure(actions.add_parser("compare", help="the same fittings under two rulebooks"))


def _list(options: argparse.Namespace) -> int:
    book = chosen_book(options)
    for rule_id in (*book.rules, *book.joined):
        print(rule_summary(rule_id, book))
    for rule_id, why in book.off.items():
        print(f"{rule_id:<30} switched off: {why}")
    return 0


def _show(options: argparse.Namespace) -> int:
    book = chosen_book(options)
    if options.id in book.off:
        print(f"{options.id} is switched off in {book.title}, {book.version}: {book.off[options.id]}")
        return 0
    if options.id not in book.rules and options.id not in book.joined:
        near = [rule_id for rule_id in (*book.rules, *book.joined) if options.id.split("-")[0] in rule_id]
        hint = f" Near it: {', '.join(near)}." if near else ""
        print(
            f"fitcheck rules show: no rule {json.dumps(options.id)}.{hint} 'fitcheck rules list' has them all.",
            file=sys.stderr,
        )
        return BAD_USAGE
    lines = [*rule_lines(options.id, book, paint=paint_for(sys.stdout)), *case_lines(options.id, book)]
    print("\n".join(lines))
    return 0


def _page(options: argparse.Namespace) -> int:
    print(rulebook_page(chosen_book(options)), end="")
    return 0
