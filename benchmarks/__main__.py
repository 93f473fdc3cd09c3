"""``python -m benchmarks``: run the benchmarks and print medians and ratios."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from benchmarks.harness import Result
from benchmarks.results import FILE, shown, write

__all__ = ["NAMES", "main"]

NAMES: Final = {
    "engines": "engines",
    "assess": "assessing",
    "simplicity": "simplicity",
    "http": "over_http",
    "brief": "brief",
    "stages": "stages",
    "keeping": "keeping",
    "batch": "batch",
    "memory": "memory",
    "cold": "cold",
    "measures": "measures",
    "growth": "growth",
    "cluster": "cluster",
    "million": "million",
}
"""The benchmarks and their modules, in the order in which they run."""
_QUIET: Final = 0.6
"""Load of the last minute up to which a machine counts as idle."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit status: 1 when a promise is not kept."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description="Run the benchmarks, all or some.")
    parser.add_argument("names", metavar="NAME", nargs="*", help=f"any of {', '.join(NAMES)}; all when left out")
    parser.add_argument("--quick", action="store_true", help="a first look: small sizes, unsteady figures")
    parser.add_argument("--write", action="store_true", help=f"put the results into {FILE.parent.name}/{FILE.name}")
    parser.add_argument(
        "--assessments", type=int, metavar="N", help="length of the memory run (1000000 for the record)"
    )
    parser.add_argument("--records", type=int, metavar="N", help="records of the growth run at first (100000)")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), help="of the growth run (sqlite)")
    parser.add_argument(
        "--stores", metavar="FOLDER", type=Path, help="where the growth run has its SQLite stores, kept"
    )
    parser.add_argument("--count", metavar="N", type=int, help="fittings of the cluster and million runs (20000)")
    options = parser.parse_args(arguments)
    unknown = [name for name in options.names if name not in NAMES]
    if unknown:
        parser.error(f"no benchmark {unknown[0]!r}; there are {', '.join(NAMES)}")
    if os.getloadavg()[0] > _QUIET:
        print("This machine is at work on something else: the figures will not be steady.", file=sys.stderr)
    results = []
    for name in options.names or NAMES:
        print(f"… {name}", file=sys.stderr, flush=True)
        results.append(_run(name, options))
        print(f"{shown(results[-1])}\n", flush=True)
    if options.write:
        write(results, tuple(NAMES))
    return int(any(not bound.met for result in results for bound in result.bounds))


def _run(name: str, options: argparse.Namespace) -> Result:
    # Only what is asked for is imported: the peers are an optional extra.
    module = importlib.import_module(f"benchmarks.{NAMES[name]}")
    sizes = module.QUICK if options.quick else module.Sizes()
    if name == "memory" and options.assessments:
        sizes = module.Sizes(assessments=options.assessments)
    if name == "growth":
        sizes = replace(
            sizes,
            small=options.records or sizes.small,
            database=options.database or sizes.database,
            folder=options.stores,
        )
    if name in {"cluster", "million"} and options.count:
        sizes = replace(sizes, fittings=options.count)
    result: Result = module.run(sizes)
    return result


if __name__ == "__main__":
    raise SystemExit(main())
