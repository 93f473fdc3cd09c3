"""``fitcheck completion``: a script by which a shell completes the command."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import Any, Final

import shtab

from fitcheck.cli import whole_parser

__all__ = ["configure"]

_SHELLS: Final = ("bash", "zsh", "tcsh")
_FILES: Final = frozenset({"FILE", "FILE|ID", "KEYFILE", "OUT", "OUT.svg"})
_FOLDERS: Final = frozenset({"A", "B", "BOOK", "DIR"})
"""What options and arguments are called that name files and folders."""


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("shell", choices=_SHELLS, help="the shell that is to complete")
    parser.epilog = (
        "For bash: fitcheck completion bash > ~/.local/share/bash-completion/completions/fitcheck . For zsh: fitcheck "
        "completion zsh > ~/.zfunc/_fitcheck , with that folder in fpath. Print it anew after an upgrade."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the script."""
    parser = whole_parser()
    for action in _actions(parser):
        name = action.metavar
        if name in _FILES:
            action.complete = shtab.FILE
        elif name in _FOLDERS:
            action.complete = shtab.DIRECTORY
    print(shtab.complete(parser, shell=options.shell))
    return 0


def _actions(parser: argparse.ArgumentParser) -> Iterator[Any]:
    """Every option and argument of the command and all below it."""
    for action in parser._actions:  # noqa: SLF001  (argparse has no other way to them)
        yield action
        if isinstance(action, argparse._SubParsersAction):  # noqa: SLF001
            for below in action.choices.values():
                yield from _actions(below)
