"""A cold start of the command against importing pydantic, which it cannot do without."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from dataclasses import dataclass
from typing import Final

from benchmarks.harness import ROOT, Bound, Result, by_turns, environment, middle

__all__ = ["QUICK", "Sizes", "run"]

MOST: Final = 4.5
"""How many times the import of pydantic a cold `fitcheck assess FILE` may take."""

_FITTING: Final = ROOT / "cases_demo" / "good-draught-fore.json"
_HOW: Final = (
    '`python -m fitcheck assess cases_demo/{fitting}` from start to end, against `python -c "import pydantic"` and a '
    "bare `python -c pass`, by turns, {rounds} rounds after one that fills the caches; medians."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many rounds."""

    rounds: int = 21


QUICK: Final = Sizes(rounds=7)


def run(sizes: Sizes) -> Result:
    """Start each by turns.  Raises subprocess.CalledProcessError when one fails."""
    with tempfile.TemporaryDirectory() as compiled:
        ms = _measured(sizes.rounds, compiled)
    return Result(
        "cold",
        "Cold start",
        _HOW.format(fitting=_FITTING.name, rounds=sizes.rounds),
        (
            ("fitcheck assess FILE", f"{ms['ours']:.0f} ms"),
            ("import pydantic", f"{ms['pydantic']:.0f} ms"),
            ("bare Python", f"{ms['python']:.0f} ms"),
        ),
        (Bound("fitcheck against import pydantic", ms["ours"] / ms["pydantic"], most=MOST),),
        ("pydantic",),
    )


def _measured(rounds: int, compiled: str) -> dict[str, float]:
    """Milliseconds of each; ``compiled`` is a folder for compiled modules, which an installation has beside them."""
    surroundings = environment() | {"PYTHONPYCACHEPREFIX": compiled}
    surroundings.pop("PYTHONDONTWRITEBYTECODE", None)

    def start(*arguments: str) -> None:
        command = [sys.executable, *arguments]
        subprocess.run(command, cwd=ROOT, env=surroundings, stdout=subprocess.DEVNULL, check=True)  # noqa: S603  (our own)

    works = {
        "ours": lambda: start("-m", "fitcheck", "assess", str(_FITTING)),
        "pydantic": lambda: start("-c", "import pydantic"),
        "python": lambda: start("-c", "pass"),
    }
    by_turns(works, 1)
    return {name: 1e3 * middle(each) for name, each in by_turns(works, rounds).items()}
