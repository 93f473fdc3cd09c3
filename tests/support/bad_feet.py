"""Feet with gross faults, drawn with a seed: what nobody would let go, one fault or many at a time.

It knows the contract's JSON and nothing of the package: a fault is a path and a value that is plainly bad.
"""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

__all__ = ["FAULTS", "Fault", "bad_feet", "with_faults"]

Fitting = dict[str, Any]

_GOOD: Final = Path(__file__).parents[2] / "cases_demo" / "good-draught-fore.json"
_BARE: Final = ("hot_fit",)
_NAILED: Final = ("nailed", "finished")
_DONE: Final = ("finished",)
_ALL: Final = ("hot_fit", "nailed", "finished")
_SIDES: Final = ("medial", "lateral")


class Fault(NamedTuple):
    """One gross fault: ``values`` that are plainly bad at ``path``, at the ``stages`` that look at it."""

    path: str
    values: tuple[Any, ...]
    stages: tuple[str, ...] = _ALL


def _faults() -> Iterator[Fault]:
    for side in _SIDES:
        heel = f"observations.heel_fit.{side}"
        yield Fault(f"{heel}.length", (-9, -3, 70, 100, "uncovered"))
        yield Fault(f"{heel}.width", (-6, -2, 25, 45, "tight"))
        yield Fault(f"{heel}.width_least", (-4,))
        yield Fault(f"{heel}.frog_gap", (0, -6, "touching"))
        yield Fault(f"observations.toe_fit.{side}_overhang", (-6, 9, "inside"))
        yield Fault(f"observations.levelness.gaps.{side}_heel", (2.5, 8, "daylight", "open"))
        yield Fault(f"observations.levelness.gaps.{side}_quarter", (2.5, "open"))
    yield Fault("observations.toe_fit.overhang", (-8, 9, "set_back"))
    yield Fault("observations.toe_fit.clip", ("too_deep",))
    yield Fault("observations.toe_fit.wall_rasped_back", (True,), _BARE)
    yield Fault("observations.levelness.gaps.toe", (2.5, "open"))
    yield Fault("observations.levelness.rocks", (True,))
    yield Fault("observations.scorch.sole_pressure", (True,))
    yield Fault("observations.levelness.medial_height", (40, 90), _BARE)
    yield Fault("observations.scorch.coverage", (0.1, "poor"))
    yield Fault("observations.scorch.sole_scorch", (15, "scorched"), _BARE)
    yield from _of_dressing_and_shoe()
    for number in range(8):
        nail = f"observations.nails.{number}"
        yield Fault(f"{nail}.exit_height", (0, 5, 60, "high"), _NAILED)
        yield Fault(f"{nail}.sound", ("soft",), _NAILED)
        yield Fault(f"{nail}.reaction", ("flinch",), _NAILED)
        yield Fault(f"{nail}.blood", (True,), _NAILED)
        yield Fault(f"{nail}.at_clip", (True,), _NAILED)
        yield Fault(f"{nail}.head", ("loose",), _DONE)
        yield Fault(f"{nail}.clinch", ("cracked", "pulled", "missing", "sharp"), _NAILED)
    yield Fault("observations.finish.hand", ("rough", "sharp"), _DONE)
    yield Fault("observations.soundness.trot_up", ("uneven", "lame"), _DONE)
    yield Fault("observations.going.walk", ("short",), _DONE)
    yield Fault("observations.going.turn", ("tender",), _DONE)
    yield Fault("observations.going.stands", ("frets",), _NAILED)
    yield Fault("observations.going.strikes", ("brushes", "forges", "treads"), _DONE)


def _of_dressing_and_shoe() -> Iterator[Fault]:
    dressing = "observations.dressing"
    yield Fault(f"{dressing}.axis", ("broken_back", "broken_forward"), _BARE)
    yield Fault(f"{dressing}.axis_front", ("inner_toe", "outer_toe"), _BARE)
    yield Fault(f"{dressing}.across", ("inner_high", "outer_high"), _BARE)
    yield Fault(f"{dressing}.surface", ("uneven", "below_sole"), _BARE)
    yield Fault(f"{dressing}.seat_of_corn", ("bears",), _BARE)
    yield Fault(f"{dressing}.horn", ("broken",), _BARE)
    yield Fault(f"{dressing}.old_stubs", (True,), _BARE)
    for what in ("crack", "bruise", "smell", "heat"):
        yield Fault("observations.seen", ([{"what": what, "place": "toe", "deep": True}],))
    for what in ("discharge", "blood"):
        yield Fault("observations.seen", ([{"what": what, "place": "sole"}],))
    yield Fault("shoe.plate", ("rocks", "trough", "saucer"))
    yield Fault("shoe.calks", ({"medial": 20, "lateral": 2}, {"medial": 5, "lateral": 5, "toe": 20}))
    yield Fault("shoe.roll", (30,))
    yield Fault("shoe.edges", ("sharp",), _DONE)


FAULTS: Final = tuple(_faults())


def with_faults(stage: str, faults: list[tuple[str, Any]]) -> Fitting:
    """The good foot at ``stage`` with these values at these paths."""
    fitting: Fitting = json.loads(_GOOD.read_text(encoding="utf-8"))
    fitting["stage"] = stage
    if stage == "hot_fit":
        nails = fitting["observations"].pop("nails")
        fitting["shoe"]["holes"] = [
            {"branch": nail["branch"], "hole": nail["hole"], "to_white_line": "on_line"} for nail in nails
        ]
    for path, value in faults:
        *parents, last = path.split(".")
        here: Any = fitting
        for step in parents:
            here = here[int(step)] if isinstance(here, list) else here.setdefault(step, {})
        here[last] = copy.deepcopy(value)
    return fitting


def bad_feet(seed: int, count: int) -> Iterator[Fitting]:
    """``count`` feet with one to eight gross faults each, always the same for one seed."""
    rng = random.Random(seed)
    for _ in range(count):
        stage = rng.choice(_ALL)
        here = [fault for fault in FAULTS if stage in fault.stages]
        chosen = {fault.path: rng.choice(fault.values) for fault in rng.sample(here, rng.randint(1, 8))}
        if rng.random() < 0.9:  # a critical finding leaves nothing else to do, so most feet have none
            critical = (".reaction", ".blood", "observations.seen", ".trot_up")
            chosen = {path: value for path, value in chosen.items() if not path.endswith(critical)} or chosen
        fitting = with_faults(stage, [*chosen.items()])
        fitting["foot"] = rng.choice(("left_fore", "right_hind"))
        fitting["work"] = rng.choice(("riding", "harness", "draught"))
        fitting["stance"] = rng.choice(("regular", "regular", "base_wide", "base_narrow"))
        yield fitting
