"""Sessions of practice, made up."""

from __future__ import annotations

import uuid
from typing import Any

import numpy as np

from fitcheck.practice import EXERCISES, ExerciseId, PracticeSession, exercises_of, parse_practice
from rules import shipped_rulebook

__all__ = ["session", "session_document"]


def session_document(seed: int = 1, exercise: ExerciseId = "heel_width", *, day: int = 1, off: float = 0.0) -> Any:
    """The body of a session of thirty drawings by somebody whose bounds lie ``off`` scales too high."""
    random, known = np.random.default_rng(seed), exercises_of(shipped_rulebook())[exercise]
    drawings = []
    for number in range(30):
        value = round(float(random.uniform(known.low, known.high)), 2)
        seen = value + random.normal() * 0.6 * known.scale - off * known.scale
        drawings.append(
            {
                "seed": int(random.integers(2**32)),
                "foot": ("left_fore", "right_hind")[number % 2],
                "place": known.places[number // 2 % len(known.places)],
                "value": value,
                "word": known.words[sum(seen > bound for bound in known.bounds)],
                "ms": int(random.integers(900, 2900)),
            }
        )
    return {
        "id": str(uuid.UUID(int=seed, version=4)),
        "exercise": exercise,
        "began": f"2026-03-{day:02}T10:00:00.000Z",
        "ended": f"2026-03-{day:02}T10:01:20.500Z",
        "bounds": list(known.bounds),
        "drawings": drawings,
    }


def session(seed: int = 1, exercise: ExerciseId = "heel_width", *, day: int = 1, off: float = 0.0) -> PracticeSession:
    """The session of that body."""
    assert exercise in EXERCISES
    return parse_practice(session_document(seed, exercise, day=day, off=off))
