"""Feet put on a telephone as if they had been tapped: what a fitting says, field by field."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Final

from tests.support.paths import ROOT
from tests.support.phone import Phone

__all__ = ["case", "put"]

_UNITS: Final = {"coverage": "%", "contact_time": "s", "further_contact_times": "s", "wall_angle": "deg"}


def case(name: str) -> dict[str, Any]:
    """The demo fitting of that name."""
    fitting: dict[str, Any] = json.loads((ROOT / "cases_demo" / f"{name}.json").read_text(encoding="utf-8"))
    return fitting


def put(phone: Phone, fitting: dict[str, Any]) -> None:
    """Put ``fitting`` on the telephone as a foot that was begun, its horse at hand, and open it."""
    answers = dict(_answers(fitting, ""))
    holes: dict[str, list[int]] = {"medial": [], "lateral": []}
    punched = fitting.get("shoe", {}).get("holes", ()) if fitting["stage"] in {"dressed", "hot_fit"} else ()
    for nail in (*fitting["observations"].get("nails", ()), *punched):
        holes[nail["branch"]].append(nail["hole"])
        at = f"nail:{nail['branch']}:{nail['hole']}"
        answers |= {f"{at}.{key}": _value(key, each) for key, each in nail.items() if key not in {"branch", "hole"}}
        if "position" in nail:
            # The page asks how far back it stands, and makes a share of the shoe's length of it.
            answers[f"{at}.position"] = {"n": f"{nail['position'] * fitting['shoe']['length']:g}", "unit": "mm"}
    phone.run(
        "const [answers, holes] = arguments; const id = 'put-' + Math.random().toString(36).slice(2);"
        "const sheet = { id, changed: new Date().toISOString(), answers, good: {}, holes, offered: null, before: null,"
        "  state: 'draft', tried: false, key: null, body: null, corrects: null, problem: null };"
        "localStorage.setItem('fitcheck.sheet.' + id, JSON.stringify(sheet));"
        "for (const store of [localStorage, sessionStorage]) {"
        "  store.setItem('fitcheck.current', JSON.stringify(id));"
        "  store.setItem('fitcheck.horse', JSON.stringify(answers['horse.id'] ?? '')); }"
        "if (location.hash === '#foot') dispatchEvent(new Event('hashchange')); else location.hash = 'foot';",
        answers,
        holes,
    )
    phone.until(lambda: phone.all(f"main.foot[data-foot='{fitting['foot']}']"), "the foot")


def _answers(part: dict[str, Any], path: str) -> Iterator[tuple[str, Any]]:
    for key, each in part.items():
        here = f"{path}{key}"
        if isinstance(each, dict) and "value" not in each:
            yield from _answers(each, f"{here}.")
        elif not isinstance(each, list):
            yield here, _value(key, each)


def _value(key: str, each: Any) -> Any:
    if isinstance(each, dict):
        return {"n": str(each["value"]), "unit": each.get("unit", "mm")}
    if isinstance(each, bool) or not isinstance(each, (int, float)):
        return each
    unit = _UNITS.get(key, "mm")
    return {"n": f"{100 * each if unit == '%' else each:g}", "unit": unit}
