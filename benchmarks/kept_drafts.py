"""Drafts for a store of any size, as a national body would have them: the day book's fittings over and over.

A visit has two feet, each read by both assessors of the person who fitted; visits of one person and of one horse are
spread over the whole store, and so many records are kept a day, whatever the size: what is asked of one person, horse,
visit or day does not grow.
"""

from __future__ import annotations

import json
import random
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Final

from benchmarks.harness import documents
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from fitcheck.records import Draft, draft_of

__all__ = ["OF_A_DAY", "OF_A_PERSON", "OF_A_VISIT", "Names", "drafts"]

OF_A_VISIT: Final = 4
OF_A_PERSON: Final = 200
OF_A_DAY: Final = 400
_OF_A_HORSE: Final = 16
_FEET: Final = ("left_fore", "left_fore", "right_fore", "right_fore")
_TEMPLATES: Final = 201
"""No multiple of what a visit has: each foot is read in each way."""
_BEGIN: Final = datetime(2000, 1, 3, 6)  # noqa: DTZ001  (written as UTC)


@dataclass(frozen=True, slots=True)
class Names:
    """The names in a store that is to have ``size`` records."""

    size: int
    yard: str = ""
    """What all names begin with."""

    def person(self, number: int) -> str:
        """Who fitted, in the record of that number."""
        return f"{self.yard}A-{number // OF_A_VISIT % max(1, self.size // OF_A_PERSON)}"

    def horse(self, number: int) -> str:
        """Whose foot it is."""
        return f"{self.yard}H-{number // OF_A_VISIT % max(1, self.size // _OF_A_HORSE)}"

    def visit(self, number: int) -> str:
        """At which visit."""
        return f"{self.yard}V-{number // OF_A_VISIT}"

    def day(self, number: int) -> date:
        """On which day it was kept, and the foot was fitted."""
        return _BEGIN.date() + timedelta(days=number // OF_A_DAY)

    def created(self, number: int) -> str:
        """When it was kept."""
        at = _BEGIN + timedelta(days=number // OF_A_DAY, seconds=number % OF_A_DAY * 60)
        return f"{at.isoformat(timespec='milliseconds')}Z"


def drafts(size: int, seed: int, yard: str = "") -> Iterator[Draft]:
    """Drafts without end for a store that is to have ``size`` records; the same for the same seed."""
    names, rng = Names(size, yard), random.Random(seed)  # noqa: S311  (a seeded choice, nothing secret)
    templates = [_Template(document) for document in documents(_TEMPLATES)]
    number = 0
    while True:
        yield templates[number % len(templates)].draft(
            names, number, str(uuid.UUID(int=rng.getrandbits(128), version=4))
        )
        number += 1


class _Template:
    """A fitting and its answer, written but for what each record has of its own."""

    def __init__(self, document: dict[str, Any]) -> None:
        fitting = Fitting.model_validate(document)
        self._draft = draft_of(b"", fitting, assess(fitting))
        history = document["observations"].get("history", {})
        fitted, last_shod = (history.get(name) for name in ("fitted", "last_shod"))
        self._interval = None if fitted is None else date.fromisoformat(fitted) - date.fromisoformat(last_shod)
        own = {
            "foot": "{foot}",
            "horse": {"id": "{horse}"},
            "visit": "{visit}",
            "person": {"id": "{person}", "role": "apprentice"},
            "assessor": {"id": "{assessor}"},
            "observations": document["observations"]
            | ({} if fitted is None else {"history": history | {"fitted": "{fitted}", "last_shod": "{last_shod}"}}),
        }
        answer = json.loads(self._draft.answer) | {"id": "{id}", "created": "{created}", "foot": "{foot}"}
        self._received = json.dumps(document | own)
        self._answer = json.dumps(answer, separators=(",", ":"))

    def draft(self, names: Names, number: int, id_: str) -> Draft:
        """The draft of the record of that number and id."""
        person = names.person(number)
        own: dict[str, Any] = {
            "id": id_,
            "created": names.created(number),
            "foot": _FEET[number % OF_A_VISIT],
            "horse": names.horse(number),
            "visit": names.visit(number),
            "person": person,
            "assessor": f"{person}-S{number % 2}",
            "fitted": None if self._interval is None else names.day(number).isoformat(),
        }
        last_shod = {} if self._interval is None else {"last_shod": names.day(number) - self._interval}
        received, answer = self._received, self._answer
        for name, value in (own | last_shod).items():
            received = received.replace(f'"{{{name}}}"', f'"{value}"')
            answer = answer.replace(f'"{{{name}}}"', f'"{value}"')
        return replace(self._draft, **own, received=received.encode(), answer=answer.encode())
