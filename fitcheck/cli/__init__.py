"""The command ``fitcheck``: each sub-command in a module of its own, imported only when it is called.

Nothing of ``rules`` is imported here, not even ``rules.lazy``: what comes with it is then imported after garbage is no
longer looked for (:func:`main`), which spares a cold start 2%.
"""

from __future__ import annotations

import argparse
import gc
import importlib
import os
import re
import sys
from collections.abc import Collection, Sequence
from typing import Final, NoReturn

from fitcheck import __version__
from fitcheck.cli.printable import printing

# The command uses none of pydantic's plugins; to look for some costs a cold start a tenth of its time.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

__all__ = ["BAD_INPUT", "BAD_USAGE", "FAILED", "BadBook", "main", "whole_parser"]

BAD_USAGE: Final = 64
BAD_INPUT: Final = 65
FAILED: Final = 70
"""Exit statuses of sysexits.h: usage, data, software."""

_SELDOM: Final = 20_000
"""Objects after which the young ones are looked through for garbage: after 700 costs a cold start 5 ms."""

_COMMANDS: Final = {
    "assess": "assess fittings from files and say what to put right",
    "marks": "assess fittings from files and mark them, for practice",
    "agreement": "say how far two raters agree over kept records",
    "report": "write one foot or a visit as an HTML page to be read, printed and signed",
    "serve": "run the HTTP service",
    "keys": "make, list and revoke the access keys of the HTTP service",
    "eye": "say how good a person's eye is, by words kept beside measures",
    "people": "say how a person's kept work goes over time",
    "records": "list, show, prove, export, import, back up, restore and erase kept records",
    "regrade": "assess kept fittings again under another rulebook, and say what changes",
    "rules": "check, list, show or compare the rules of rulebooks",
    "completion": "print what makes a shell complete this command's words, options and files",
    "demo": "send a demo fitting through the real HTTP service and show the answer",
}


_NOT_A_CHOICE: Final = re.compile(r"invalid choice: '([^']*)' \(choose from (.*)\)")


class BadBook(Exception):
    """A rulebook that cannot judge; ends the command with the status for bad input."""


class _Parser(argparse.ArgumentParser):
    """A parser that leaves with the status for bad usage."""

    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        self.exit(BAD_USAGE, f"{self.prog}: {message}{_meant(message)}\n")


def _meant(message: str) -> str:
    """The word that was meant, where one was given that is not among those to choose from."""
    found = _NOT_A_CHOICE.search(message)
    if not found:
        return ""
    near = importlib.import_module("difflib").get_close_matches(found[1], re.findall(r"[\w.-]+", found[2]), n=1)
    return f". Did you mean {near[0]!r}?" if near else ""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit status.

    Without ``arguments`` the process is the command's own, and what it imports is never looked through for garbage,
    neither while it starts nor as it ends: that would cost a cold start a seventh of its time.
    """
    with printing():
        if arguments is not None:
            return _run(_options(list(arguments)))
        gc.disable()
        try:
            options = _options(sys.argv[1:])
            gc.freeze()
            gc.set_threshold(_SELDOM)
            gc.enable()
            return _run(options)
        finally:
            gc.enable()
            gc.freeze()


def _options(words: list[str]) -> argparse.Namespace:
    # Only the module of the command that was asked for is imported: a cold start is quick.
    called = next((word for word in words if word in _COMMANDS), None)
    return _parser({called}).parse_args(words)


def whole_parser() -> argparse.ArgumentParser:
    """The parser of all commands, each with all that it takes."""
    return _parser(_COMMANDS)


def _parser(configured: Collection[str | None]) -> _Parser:
    """The parser; of commands that are not to be ``configured`` it has the names alone."""
    parser = _Parser(prog="fitcheck", description="A second pair of eyes on a fitted horseshoe.")
    parser.add_argument("--version", action="version", version=f"fitcheck {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)
    for name, summary in _COMMANDS.items():
        command = commands.add_parser(name, help=summary, description=f"{summary[0].upper()}{summary[1:]}.")
        if name in configured:
            importlib.import_module(f"fitcheck.cli.{name}_command").configure(command)
    return parser


def _run(options: argparse.Namespace) -> int:
    try:
        status: int = options.run(options)
    except BadBook as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # The reader has gone (such as head); nothing is left to say.
        sys.stderr.close()
        return 0
    except KeyboardInterrupt:
        return 130
    except Exception:  # noqa: BLE001  (whatever it is: 1 would say something of a foot)
        importlib.import_module("traceback").print_exc()
        print(f"fitcheck {options.command}: a fault of the tool itself; what it was stands above.", file=sys.stderr)
        return FAILED
    return status
