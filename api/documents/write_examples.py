"""``python -m api.documents.write_examples`` writes the examples of answers that are read from what is kept.

A service of its own is sent a few fittings and asked for each of them; ids, times and digests, which are others at each
run, become fixed ones, long lists and pages are cut. The OpenAPI document shows them (`api.openapi.operation`).
"""

from __future__ import annotations

import asyncio
import json
import re
import tempfile
from collections.abc import Callable
from copy import deepcopy
from typing import Any, Final

import httpx
from fastapi.routing import APIRoute

from api.application import create_app
from api.openapi.examples import EXAMPLE_ID, EXAMPLES
from api.openapi.operation import ANSWERS, operation_of
from api.routes.practice import PRACTICE_EXAMPLE
from fitcheck.records import open_store
from rules import shipped_rulebook

__all__ = ["written"]

_ITEMS: Final = 2
"""How many items of a list are shown."""
_CHARACTERS: Final = 160
"""How much of a page is shown."""
_UUID: Final = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_TIME: Final = re.compile(r"20\d\d-\d\d-\d\d([T ])\d\d:\d\d(:\d\d\.\d{3}Z)?")
_DAY: Final = re.compile(r'(?<="day":")20\d\d-\d\d-\d\d(?=")')
"""That of a fitting that does not say when it was made is the day of this run."""
_EYE_VERSION: Final = re.compile(r'(?<="version":")[0-9a-f]{16}(?=")')
_DIGEST: Final = re.compile(r"sha256:[0-9a-f]{64}")
_VISIT: Final = "2026-03-04-H-101"
_PARAMETERS: Final = {
    "agreement": "?first=assessor:S-1&second=assessor:S-2",
    "desk_sheet": f"?visit={_VISIT}",
}
"""What a route needs to be asked for."""
_PATHS: Final = {
    "rule": "/v1/rulebook/rules/{rule}",
    "eye": "/v1/people/A-3/eye",
    "eye_curve": "/v1/people/A-3/eye/width_by_eye.svg",
}
"""Where an address is not the route's own with the names filled in."""


def written() -> str:
    """The examples, by operation, status and media type, as JSON."""
    with tempfile.TemporaryDirectory() as folder, open_store(f"sqlite:///{folder}/records.sqlite3") as store:
        app = create_app(shipped_rulebook(), store=store)

        def ask(method: str, path: str, **request: Any) -> httpx.Response:
            async def sent() -> httpx.Response:
                transport = httpx.ASGITransport(app=app)
                async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
                    return await client.request(method, path, **request)

            return asyncio.run(sent())

        place = _sent_first(ask)
        examples: dict[str, Any] = {}
        for route in app.routes:
            if isinstance(route, APIRoute) and route.include_in_schema:
                operation = operation_of(route)
                if operation.method == "POST":
                    continue
                path = _PATHS.get(operation.name, route.path_format)
                answer = ask("GET", path.format_map(place) + _PARAMETERS.get(operation.name, ""))
                if answer.status_code == httpx.codes.OK:
                    media_type = answer.headers["content-type"].partition(";")[0]
                    examples[operation.name] = {media_type: _shown(answer, media_type, place["id"])}
        # What is answered when an override is made is what is answered when it is asked for.
        examples["override"] = examples["one_override"]
        return json.dumps(examples, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def _looks_of_an_eye(ask: Callable[..., httpx.Response]) -> None:
    """Words of one person, each beside what an assessor measured: invented."""
    words = ("tight", "close", "full", "wide")
    for number in range(16):
        about = {
            "horse": {"id": f"H-{201 + number // 4}"},
            "visit": f"2026-02-0{1 + number // 4}-H-{201 + number // 4}",
        }
        foot = ("left_fore", "right_fore", "left_hind", "right_hind")[number % 4]
        fitting = {"foot": foot, "stage": "hot_fit", "work": "harness", "person": {"id": "A-3"}} | about
        measured = -1.8 + 0.45 * number
        word = words[sum(measured + 0.4 * (-1) ** number > end for end in (-0.5, 1.6, 3.2))]
        for width, more in ((word, {}), (round(measured, 1), {"assessor": {"id": "S-1"}})):
            observations = {"heel_fit": {"lateral": {"width": width}}}
            ask("POST", "/v1/assessments", json=fitting | more | {"observations": observations})


def _sent_first(ask: Callable[..., httpx.Response]) -> dict[str, str]:
    """Have some kept; what stands for the names in paths."""
    _looks_of_an_eye(ask)
    fitting = deepcopy(EXAMPLES[1].fitting) | {"visit": _VISIT, "horse": {"id": "H-101"}}
    fitting |= {"person": {"id": "A-1", "role": "apprentice"}, "assessor": {"id": "S-1"}}
    id_ = ask("POST", "/v1/assessments", json=fitting).json()["id"]
    ask("POST", "/v1/assessments", json=fitting | {"foot": "left_fore", "assessor": {"id": "S-2"}})
    change = {"what": "strike", "finding": "heel-width-tight@lateral_heel", "reason": "The rule slipped; it is 2 mm."}
    finding = ask("GET", f"/v1/assessments/{id_}").json()["findings"][0]["id"]
    body = {"about": id_, "assessor": {"id": "S-1"}, "changes": [change | {"finding": finding}]}
    override = ask("POST", f"/v1/assessments/{id_}/overrides", json=body).json()["id"]
    rule = next(iter(shipped_rulebook().rules))
    session = ask("POST", "/v1/people/A-1/practice", json=PRACTICE_EXAMPLE).json()["id"]
    place = {"id": id_, "override": override, "visit": _VISIT, "person": "A-1", "name": "gone", "rule": rule}
    return place | {"session": session}


def _shown(answer: httpx.Response, media_type: str, id_: str) -> Any:
    text = answer.text.replace(id_, EXAMPLE_ID)
    ids: dict[str, str] = {EXAMPLE_ID: EXAMPLE_ID}
    text = _UUID.sub(lambda found: ids.setdefault(found[0], f"0b8d8f0a-3f3c-4c55-9d1b-{len(ids):012}"), text)
    text = _TIME.sub(lambda found: f"2026-03-04{found[1]}10:00{':00.000Z' if found[2] else ''}", text)
    text = _DAY.sub("2026-03-04", text)
    book = shipped_rulebook().digest
    text = _DIGEST.sub(lambda found: found[0] if found[0] == book else f"sha256:{'d' * 64}", text)
    text = _EYE_VERSION.sub("4a8f5a15d240cc45", text)
    if media_type != "application/json":
        return text if len(text) <= _CHARACTERS else f"{text[:_CHARACTERS]}…"
    return _cut(json.loads(text))


def _cut(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _cut(each) for name, each in value.items()}
    return [_cut(each) for each in value[:_ITEMS]] if isinstance(value, list) else value


if __name__ == "__main__":
    ANSWERS.write_text(written(), encoding="utf-8", newline="\n")
