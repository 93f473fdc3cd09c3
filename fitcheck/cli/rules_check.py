"""``fitcheck rules check``: strict loading, compiling and the analysis of a whole rulebook; every fault is listed."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from fitcheck.cli import BAD_INPUT
from fitcheck.cli.progress import Progress, add_progress_option, progress
from fitcheck.fitting.observables import STATED, observables_of
from fitcheck.rulebooks.examples import as_json
from fitcheck.rulebooks.selection import FIRST, SHIPPED, book_named
from rules import Evaluator, Rulebook, RulebookError, RulesError
from rules.analysis import Fault, analyse

__all__ = ["configure"]


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "book", metavar="BOOK", nargs="?", help=f"folder of the rulebook, or {FIRST}; the shipped one when left out"
    )
    parser.add_argument("--json", action="store_true", help="print the faults as one JSON document")
    add_progress_option(parser)
    parser.epilog = (
        "Each fault names file and key and says what is wrong and what to write; where a fitting can show it, that "
        "stands below as JSON. Exit status: 0 no fault, 64 bad usage, 65 any fault."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Check the book; returns the exit status."""
    book = None
    try:
        book = book_named(options.book or SHIPPED)
        Evaluator(book).compile()
        with progress(options, "questions") as reporter:
            faults = _analysed(book, reporter)
    except RulebookError as error:
        # What does not load cannot be analysed.
        faults = [
            _ExplainedFault(Fault(each.file, each.key, "loading", each.problem, each.remedy), None, each.line)
            for each in sorted(error.all, key=lambda each: (each.file, each.line or 0))
        ]
    except RulesError as error:
        faults = [_ExplainedFault(Fault("(book)", "(rules)", "loading", str(error), "Take out what is too much"), None)]
    if options.json:
        print(json.dumps(_document(book, faults), ensure_ascii=False))
    elif faults:
        for each in faults:
            print(each, file=sys.stderr)
            if each.example is not None:
                print(json.dumps(each.example, ensure_ascii=False, separators=(",", ":")), file=sys.stderr)
        name = options.book if book is None else f"{book.title}, version {book.version}"
        print(f"{name}: {_counted(len(faults))}.", file=sys.stderr)
    elif book is not None:
        rules = f"{len(book.rules)} single and {len(book.joined)} joined rules"
        records = f"{len(book.criteria)} criteria, {len(book.quantities)} quantities, {rules}"
        print(f"{book.title}, version {book.version}: {records}, {len(book.sources)} sources. No fault found.")
        print(book.digest)
    return BAD_INPUT if faults else 0


class _ExplainedFault:
    """A fault with its example as JSON, and the line that it stands in where that is known."""

    def __init__(self, fault: Fault, example: dict[str, Any] | None, line: int | None = None) -> None:
        self.fault = fault
        self.example = example
        self.line = line

    def __str__(self) -> str:
        text = str(self.fault)
        if self.line is None or self.fault.key.startswith("line "):
            return text
        return f"{self.fault.file}, line {self.line}{text[len(self.fault.file) :]}"


def _analysed(book: Rulebook, reporter: Progress) -> list[_ExplainedFault]:
    return [
        _ExplainedFault(fault, None if fault.example is None else as_json(fault.example, book))
        for fault in analyse(book, observables_of(book), STATED, on_progress=reporter)
    ]


def _document(book: Rulebook | None, faults: list[_ExplainedFault]) -> dict[str, Any]:
    identity = None
    if book is not None:
        identity = {"id": book.id, "title": book.title, "version": book.version, "digest": book.digest}
    listed = [
        {
            "file": each.fault.file,
            "line": each.line,
            "key": each.fault.key,
            "kind": each.fault.kind,
            "message": each.fault.message,
            "remedy": each.fault.remedy,
            "example": each.example,
        }
        for each in faults
    ]
    return {"book": identity, "faults": listed}


def _counted(count: int) -> str:
    return "1 fault found" if count == 1 else f"{count} faults found"
