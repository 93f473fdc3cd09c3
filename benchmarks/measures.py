"""What tracing costs: one full assessment with 200-point outlines against one without, in one run.

Run ``python benchmarks/measures.py``; it prints medians and their ratio.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from cases_demo import traced_feet  # noqa: E402  (found beside the benchmarks)
from fitcheck.assess import assess  # noqa: E402  (the checkout's own)
from fitcheck.fitting import Fitting  # noqa: E402

POINTS = 200
ROUNDS = 60


def read_by_hand() -> dict[str, Any]:
    """A whole fitting with readings only."""
    fitting: dict[str, Any] = json.loads((ROOT / "cases_demo" / "good-draught-fore.json").read_text(encoding="utf-8"))
    return fitting


def read_and_traced() -> dict[str, Any]:
    """The same fitting with 200-point outlines, heights and imprint arcs besides."""
    fitting = read_by_hand()
    foot = traced_feet.fitting(replace(traced_feet.FEET["traced-good-fore"], points=POINTS))["observations"]
    fitting["observations"]["outline"] = foot["outline"]
    fitting["observations"]["levelness"]["heights"] = foot["levelness"]["heights"]
    fitting["observations"]["scorch"]["arcs"] = foot["scorch"]["arcs"]
    return fitting


def timed(work: Callable[[], object]) -> float:
    """Milliseconds of one call."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1e3


def main() -> None:
    """Measure both by turns and print."""
    plain, whole = read_by_hand(), read_and_traced()
    plain_ms, whole_ms = [], []
    for _ in range(ROUNDS):
        plain_ms.append(timed(lambda: assess(Fitting.model_validate(plain))))
        whole_ms.append(timed(lambda: assess(Fitting.model_validate(whole))))
    without, with_traces = statistics.median(plain_ms), statistics.median(whole_ms)
    print(f"without outlines       {without:7.2f} ms (median of {ROUNDS})")
    print(f"with {POINTS}-point outlines {with_traces:7.2f} ms (median of {ROUNDS})")
    print(f"ratio                  {with_traces / without:7.2f}")


if __name__ == "__main__":
    main()
