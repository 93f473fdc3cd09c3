"""Fittings of the first contract, and what each was answered when release 1.0.0 was the newest.

``answers.ndjson.gz`` has a line for each fitting: what decides, to be read by eye, and digests of the whole answer and
of each of its fields, so that a change is named by field. What is meant to change stands in ``changes.toml``.
"""

from __future__ import annotations

import gzip
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import Any, Final

from fitcheck.assessment.assess import assess
from fitcheck.fitting.strict_json import loads
from fitcheck.fitting.validation import parse_fitting
from rules import Rulebook, first_rulebook
from tests.contract_one.generator import fittings

__all__ = [
    "COUNT",
    "answer_of",
    "bodies",
    "changed_fields",
    "differences",
    "digests_by_field",
    "first_book",
    "line_of",
    "lines",
    "read_answers",
    "write_answers",
]

HERE: Final = Path(__file__).parent
FEET: Final = HERE / "feet"
ANSWERS: Final = HERE / "answers.ndjson.gz"
COUNT: Final = 1000
"""Random fittings beside the demo feet."""
_PASSING: Final = ("id", "created")
_SHORT: Final = 4  # hexadecimal digits of a field's digest; the whole answer's has them all


def first_book() -> Rulebook:
    """The rulebook of the first contract, 1.3.0."""
    return first_rulebook()


def bodies() -> Iterator[tuple[str, bytes]]:
    """Each fitting of the corpus as a client sends it, with its name: the demo feet, then the random ones."""
    for path in sorted(FEET.glob("*.json")):
        yield path.stem, path.read_bytes()
    for name, fitting in fittings(COUNT):
        yield name, json.dumps(fitting, ensure_ascii=False).encode()


def answer_of(body: bytes, book: Rulebook) -> dict[str, Any]:
    """The assessment as JSON values, without what differs from run to run. Raises BadInput."""
    document: dict[str, Any] = json.loads(assess(parse_fitting(loads(body), book), book).model_dump_json())
    return {key: value for key, value in document.items() if key not in _PASSING}


def line_of(name: str, body: bytes, answer: Mapping[str, Any]) -> dict[str, Any]:
    """What is kept of one answer."""
    return {
        "name": name,
        "body": _digest(body)[:_SHORT],
        "decision": answer["decision"],
        "findings": [[found["rule"], found["place"], found["grade"]] for found in answer["findings"]],
        "conforms": len(answer["conforms"]),
        "not_assessed": answer["not_assessed"],
        "digest": f"sha256:{_digest(_canonical(answer))}",
        "fields": digests_by_field(answer),
    }


def lines(step: int = 1) -> Iterator[dict[str, Any]]:
    """The line of each fitting, by the tool of today; with ``step`` of each so many the first alone."""
    book = first_book()
    return (line_of(name, body, answer_of(body, book)) for name, body in islice(bodies(), 0, None, step))


def write_answers() -> int:
    """Freeze the answers of today; returns how many."""
    made = [_canonical(line) for line in lines()]
    ANSWERS.write_bytes(gzip.compress(b"\n".join(made) + b"\n", mtime=0))
    return len(made)


def read_answers() -> list[dict[str, Any]]:
    """The frozen lines."""
    return [json.loads(line) for line in gzip.decompress(ANSWERS.read_bytes()).splitlines()]


def differences(frozen: Iterable[Mapping[str, Any]], found: Iterable[Mapping[str, Any]]) -> dict[str, list[str]]:
    """The names of the fittings for which a field of the answer differs, by field.

    Raises ValueError where the fittings themselves are others.
    """
    changed: dict[str, list[str]] = {}
    for was, now in zip(frozen, found, strict=True):
        if (was["name"], was["body"]) != (now["name"], now["body"]):
            raise ValueError(f"{now['name']} is not the fitting that was frozen as {was['name']}")
        for field in changed_fields(was, now):
            changed.setdefault(field, []).append(was["name"])
    return changed


def changed_fields(was: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """The fields that differ between the lines of one fitting: their paths in the answer, and those of the line."""
    if was == now:
        return []
    before, after = was["fields"], now["fields"]
    fields = sorted(field for field in before.keys() | after.keys() if before.get(field) != after.get(field))
    # The rest follows from the answer; a difference there alone is a fault of this comparison.
    return fields or sorted(key for key in was.keys() | now.keys() if was.get(key) != now.get(key))


def digests_by_field(answer: Mapping[str, Any]) -> dict[str, str]:
    """A digest for each path of the answer, such as ``findings[].measured.u``, over all values there in their order."""
    values: dict[str, list[Any]] = {}
    _collect(answer, "", (), values)
    return {path: _digest(_canonical(found))[:_SHORT] for path, found in values.items()}


def _collect(value: Any, path: str, at: tuple[int, ...], values: dict[str, list[Any]]) -> None:
    if isinstance(value, dict):
        for key, part in value.items():
            _collect(part, f"{path}.{key}" if path else key, at, values)
    if isinstance(value, list):
        for number, part in enumerate(value):
            _collect(part, f"{path}[]", (*at, number), values)
    if not isinstance(value, dict | list) or not value:
        values.setdefault(path, []).append([*at, value])


def _canonical(document: Any) -> bytes:
    return json.dumps(document, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False).encode()


def _digest(text: bytes) -> str:
    return hashlib.sha256(text).hexdigest()
