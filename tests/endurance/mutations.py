"""Bodies that began as good fittings and then had accidents, at the level of JSON and at that of bytes."""

from __future__ import annotations

import copy
import json
import random
import re
from collections.abc import Callable
from functools import cache
from typing import Any, Final

from tests.support.kept_fittings import demo_bodies

__all__ = ["FOLLOWED", "followed_body", "mutated_body"]

FOLLOWED: Final = "00000000-0000-4000-8000-000000000001"
"""The id of the assessment that some of the fittings follow: one that is kept beforehand, of ``followed_body``."""

_ODD_TEXTS: Final = (
    "",
    " ",
    "\x00",
    "\x7f",
    "a\u0000b",
    "\u2028\u2029",
    "\u202e3.0\u202c",
    "\ufeff3",
    "\uffff\ufffe",
    "\U0001f40e" * 30,
    "e\u0301" * 40,
    "Z\u0351\u0329\u0347" * 50,
    "\u0663.\u0661",
    "\uff11/\uff18",
    "\u00bd",
    "\u212b",
    "ﬀ",
    "\u1e9eß",
    "NaN",
    "null",
    "1/0",
    "0/1",
    "1/-8",
    "1 5/8 ",
    "-1/8",
    "1e5",
    "0x10",
    "1_000",
    "+3",
    "٣",
    "2026-02-30",
    "0000-00-00",
    "9999-12-31",
    "2026-03-04T00:00:00Z",
    "tight",
    "medial_heel",
    "%s%n{0}{}${x}",
    "x" * 20_000,
)
_ODD_NUMBERS: Final[tuple[float, ...]] = (
    0,
    -0.0,
    -1,
    1,
    2**31,
    2**53 + 1,
    2**63,
    2**64,
    10**99,
    10**120,
    -(10**99),
    1e308,
    -1e308,
    5e-324,
    1e-300,
    1e15,
    0.1 + 0.2,
    float("nan"),
    float("inf"),
    float("-inf"),
)
_ODD_VALUES: Final[tuple[Any, ...]] = (None, True, False, [], {}, [[]], [None], {"": None}, {"value": {}}, [[0, 0]] * 3)
_ODD_BYTES: Final = (
    b"\x00",
    b"\xff",
    b"\xc3\x28",
    b"\xed\xa0\x80",
    b"\xf4\x90\x80\x80",
    b"\xef\xbb\xbf",
    b"\\ud800",
    b"\\u0000",
    b"\\x",
    b"NaN",
    b"-Infinity",
    b"1e400",
    b"9" * 5000,
    b"0" * 50 + b"1",
    b"0.",
    b"//",
    b"/* */",
    b",,",
    b'"',
    b"\r\n",
    b"\n",
    b"\t",
    b"{",
    b"}",
    b"[" * 200,
    b'{"a":' * 200,
    b"]" * 40,
    b"'",
    b'"foot": "left_hind", ',
    b'"observations": {}, ',
)
_MOST_PARTS: Final = 20_000
_DEEPEST: Final = 60
_LONGEST: Final = 1_500_000
"""In bytes: somewhat more than the service takes."""
_Path = tuple[Any, ...]


def followed_body() -> bytes:
    """The first foot as it was before it was finished, with fields that the second contract has alone."""
    document = _parsed(demo_bodies()[0])
    observations = {
        "dressing": {"axis": "straight", "across": "level", "sole": "whole", "old_stubs": False},
        "seen": [{"what": "crack", "place": "toe", "deep": False}],
        "heel_fit": {"medial": {"length": 11, "width": "full", "width_least": 1, "to_cleft": 30}},
        "toe_fit": {"overhang": "flush", "medial_overhang_least": 0, "clips": [{"at": "toe", "state": "seated"}]},
        "levelness": {
            "sole_pressure": False,
            "heights": [[0, 60, 0.1, 0.2], [0, -9, 0], [-40, -40, 0], [40, -40, 0.1]],
        },
        "nails": [
            {"branch": "medial", "hole": 1, "exit_height": "right", "to_white_line": "on_line", "head": "seated"}
        ],
        "nails_even": {"medial": "even"},
        "scorch": {"holds": [{"start": 0, "seconds": 6, "heat": "cherry"}], "dark": ["toe"], "coverage": "whole"},
    }
    shoe = {"thickness": 11, "web": 30, "calks": {"medial": 5}, "holes": [{"branch": "medial", "hole": 1}]}
    whole = {"foot": document["foot"], "stage": "nailed", "work": document["work"], "stance": "base_wide"}
    external = {"system": "practice", "id": "F-1"}
    return json.dumps(whole | {"external": external, "shoe": shoe, "observations": observations}).encode()


def _following_body() -> bytes:
    """The same foot finished, which leaves out what stands."""
    said = {name: {"as_before": True} for name in ("heel_fit", "toe_fit", "levelness")}
    seen = {"going": {"before": "sound", "walk": "free", "trot_up": "sound"}, "finish": {"rasped_below": "lightly"}}
    nails = [{"branch": "medial", "hole": 1, "clinch": "flush", "clinch_length": 5}]
    foot = json.loads(followed_body())["foot"]
    whole = {"foot": foot, "stage": "finished", "follows": FOLLOWED, "external": {"system": "practice", "id": "F-2"}}
    return json.dumps(whole | {"observations": said | seen | {"nails": nails}}).encode()


@cache
def _good_bodies() -> tuple[bytes, ...]:
    return (*demo_bodies(), *[followed_body(), _following_body()] * 4)


def mutated_body(chance: random.Random) -> bytes:
    """One body; the same for the same state of ``chance``. Now and then one is still a good fitting."""
    body = chance.choice(_good_bodies())
    if chance.random() < 0.7:
        document = copy.deepcopy(_parsed(body))
        for _ in range(chance.choice((1, 1, 1, 2, 3, 8))):
            document = chance.choice(_ON_TREES)(document, chance)
            if _is_large(document):
                break
        text = json.dumps(document, ensure_ascii=chance.random() < 0.5, indent=chance.choice((None, None, 1)))
        body = text.encode("utf-8", "surrogatepass")
    if chance.random() < 0.4:
        for _ in range(chance.choice((1, 1, 2, 5))):
            body = chance.choice(_ON_BYTES)(body, chance)[:_LONGEST]
    return body


@cache
def _parsed(body: bytes) -> Any:
    return json.loads(body)


def _is_large(tree: Any) -> bool:
    """Whether it has so many parts, or stands so deep, that it had better not grow any more."""
    parts, here = 0, [tree]
    for _ in range(_DEEPEST):
        here = [
            inner
            for part in here
            if isinstance(part, dict | list)
            for inner in (part.values() if isinstance(part, dict) else part)
        ]
        parts += len(here)
        if not here or parts > _MOST_PARTS:
            break
    return bool(here)


def _paths(part: Any, path: _Path = ()) -> list[_Path]:
    """Every place in a tree, the whole among them."""
    inner = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    return [path, *(found for key, value in inner for found in _paths(value, (*path, key)))]


def _at(tree: Any, path: _Path) -> Any:
    for step in path:
        tree = tree[step]
    return tree


def _put(tree: Any, path: _Path, value: Any) -> Any:
    if not path:
        return value
    _at(tree, path[:-1])[path[-1]] = value
    return tree


def _somewhere(tree: Any, chance: random.Random, kind: type | tuple[type, ...] = object) -> _Path | None:
    places = [path for path in _paths(tree) if isinstance(_at(tree, path), kind)]
    return chance.choice(places) if places else None


def _odd_value(chance: random.Random) -> Any:
    return chance.choice(chance.choice((_ODD_TEXTS, _ODD_NUMBERS, _ODD_VALUES)))


def _another_value(tree: Any, chance: random.Random) -> Any:
    path = _somewhere(tree, chance)
    return _put(tree, path or (), copy.deepcopy(_odd_value(chance)))


def _another_number(tree: Any, chance: random.Random) -> Any:
    """A number that is often still possible: these are assessed."""
    path = _somewhere(tree, chance, (int, float))
    if not path:
        return tree
    value = float(_at(tree, path))
    changed = chance.choice((value * chance.uniform(0, 3), value + chance.gauss(0, 3), -value, value // 1, value / 7))
    return _put(tree, path, chance.choice((changed, round(changed, 1), f"{changed}")))


def _another_text(tree: Any, chance: random.Random) -> Any:
    path = _somewhere(tree, chance, str)
    return _put(tree, path, chance.choice(_ODD_TEXTS)) if path else tree


def _renamed(tree: Any, chance: random.Random) -> Any:
    path = _somewhere(tree, chance, dict)
    here = None if path is None else _at(tree, path)
    if not here:
        return tree
    key = chance.choice(list(here))
    new = chance.choice((key.upper(), key[:-1], f"{key} ", f"{key}\u200b", key[::-1], chance.choice(_ODD_TEXTS)))
    here[new] = here.pop(key)
    return tree


def _left_out(tree: Any, chance: random.Random) -> Any:
    path = _somewhere(tree, chance)
    if path:
        del _at(tree, path[:-1])[path[-1]]
    return tree


def _added(tree: Any, chance: random.Random) -> Any:
    path = _somewhere(tree, chance, (dict, list))
    if path is not None:
        here = _at(tree, path)
        if isinstance(here, dict):
            here[chance.choice((*_ODD_TEXTS, "value", "unit", "u", "medial", "toe"))] = copy.deepcopy(
                _odd_value(chance)
            )
        else:
            here.insert(chance.randint(0, len(here)), copy.deepcopy(_odd_value(chance)))
    return tree


def _many_times(tree: Any, chance: random.Random) -> Any:
    path = _somewhere(tree, chance, list)
    if path is None:
        return tree
    return _put(tree, path, (_at(tree, path) * chance.choice((2, 3, 50)))[:2000])


def _elsewhere(tree: Any, chance: random.Random) -> Any:
    """One part of the tree once more in the place of another."""
    target, source = _somewhere(tree, chance), _somewhere(tree, chance)
    return _put(tree, target or (), copy.deepcopy(_at(tree, source or ())))


def _deep(tree: Any, chance: random.Random) -> Any:
    path = _somewhere(tree, chance) or ()
    value = _at(tree, path)
    for _ in range(chance.choice((1, 5, 30, 40, 200))):
        value = [value] if chance.random() < 0.5 else {"value": value}
    return _put(tree, path, value)


def _flipped(body: bytes, chance: random.Random) -> bytes:
    if not body:
        return body
    at = chance.randrange(len(body))
    return body[:at] + bytes([body[at] ^ (1 << chance.randrange(8))]) + body[at + 1 :]


def _span(body: bytes, chance: random.Random) -> tuple[int, int]:
    start = chance.randint(0, len(body))
    return start, min(len(body), start + chance.choice((1, 2, 10, 100, 10_000)))


def _cut(body: bytes, chance: random.Random) -> bytes:
    start, end = _span(body, chance)
    return body[:start] + body[end:]


def _doubled(body: bytes, chance: random.Random) -> bytes:
    start, end = _span(body, chance)
    return body[:end] + body[start:end] * chance.choice((1, 1, 20)) + body[end:]


def _inserted(body: bytes, chance: random.Random) -> bytes:
    at = chance.randint(0, len(body))
    return body[:at] + chance.choice((*_ODD_BYTES, chance.randbytes(chance.randint(1, 8)))) + body[at:]


def _digits(body: bytes, chance: random.Random) -> bytes:
    """Some number of the text replaced."""
    found = list(re.finditer(rb"-?\d+(?:\.\d+)?", body))
    if not found:
        return body
    number = chance.choice(found)
    new = chance.choice(
        (b"1e400", b"-0", b"9" * 99, b"9" * 101, b"1e-400", b"0x1", b"01", b".5", b"1.", b"NaN", b"1e30")
    )
    return body[: number.start()] + new + body[number.end() :]


def _other_coding(body: bytes, chance: random.Random) -> bytes:
    text = body.decode("utf-8", "replace")
    return text.encode(chance.choice(("utf-16", "utf-16-le", "utf-32", "utf-8-sig", "latin-1", "utf-7")), "replace")


def _twice(body: bytes, chance: random.Random) -> bytes:
    return body + chance.choice((b"", b"\n", b",")) + body


_ON_TREES: Final[tuple[Callable[[Any, random.Random], Any], ...]] = (
    _another_value,
    _another_value,
    _another_number,
    _another_number,
    _another_number,
    _another_text,
    _renamed,
    _left_out,
    _left_out,
    _added,
    _many_times,
    _elsewhere,
    _deep,
)
_ON_BYTES: Final[tuple[Callable[[bytes, random.Random], bytes], ...]] = (
    _flipped,
    _flipped,
    _cut,
    _doubled,
    _inserted,
    _inserted,
    _digits,
    _other_coding,
    _twice,
)
