"""The options for very many fittings, and the cluster that they name."""

from __future__ import annotations

import argparse
from contextlib import AbstractContextManager, nullcontext
from typing import TYPE_CHECKING

from fitcheck.cli.progress import add_progress_option
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.bulk.cluster import Cluster
else:
    Cluster = lazily("fitcheck.bulk.cluster", "Cluster")

__all__ = ["add_cluster_options", "add_lines_options", "chosen_cluster", "misplaced"]


def add_lines_options(parser: argparse.ArgumentParser) -> None:
    """Add ``--lines`` and what goes with it."""
    group = parser.add_argument_group("very many fittings")
    group.add_argument(
        "--lines",
        action="store_true",
        help="each FILE has a fitting on each line (JSON), or is a Parquet file with a column of texts, fitting; "
        "answers with a line of JSON for each, in their order",
    )
    group.add_argument("--output", metavar="OUT", help="with --lines: write the answers there")
    group.add_argument("--resume", action="store_true", help="go on with that output where it was broken off")
    add_progress_option(group)
    add_cluster_options(group)


def add_cluster_options(parser: argparse._ArgumentGroup | argparse.ArgumentParser) -> None:
    """Add ``--cluster`` and ``--workers``."""
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        nargs="?",
        const="",
        help="let a Dask cluster do the work: the scheduler's address such as tcp://machine:8786, or none for workers "
        "on this machine (needs the extra cluster)",
    )
    parser.add_argument("--workers", metavar="N", type=int, help="how many, with --cluster and no ADDRESS")


def misplaced(options: argparse.Namespace) -> str | None:
    """What is wrong with the options of ``fitcheck assess`` taken together; None where nothing is."""
    of_lines = ("output", "resume", "cluster", "workers", "progress")
    of_feet = ("json", "explain", "drawing", "follows")
    for name in of_feet if options.lines else of_lines:
        if getattr(options, name) not in (None, False, []):
            return f"--{name} {'does not go' if options.lines else 'goes'} with --lines."
    if options.resume and options.output is None:
        return "--resume needs the --output to go on with."
    return None


def chosen_cluster(options: argparse.Namespace) -> AbstractContextManager[Cluster | None]:
    """The cluster that the options ask for, to be entered; none of them: the work is done here.

    Raises ModuleNotFoundError where the extra ``cluster`` is not installed.
    """
    if options.cluster is None:
        return nullcontext()
    return Cluster(options.cluster or None, options.workers)
