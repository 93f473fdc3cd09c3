"""A whole client of a fitcheck service: send a foot, keep it, follow what is kept, correct it, erase on your side.

    export FITCHECK_KEY=hoof_...       # a key with the scopes "assess" and "read", where the service asks for one
    python yard_client.py http://127.0.0.1:8750 foot.json

Needs Python 3.11 or later and httpx. Take it away and change it.
"""

from __future__ import annotations

import json
import os
import random
import sys
import time
import uuid
from pathlib import Path
from typing import Any, Self

import httpx

TRIES = 6  # how often a request is sent before the program gives up
AGAIN = {429, 502, 503, 504}  # the service could not answer just now: sending it again may help


class Refused(Exception):
    """The service refused the request: sending it again will not help; the text says field by field what to change."""


class Yard:
    """One service, and what this program has taken of it."""

    def __init__(self, url: str, key: str | None = None) -> None:
        headers = {"authorization": f"Bearer {key}"} if key else {}
        self._client = httpx.Client(base_url=url, headers=headers, timeout=40)
        self._after: str | None = None
        self.taken: dict[str, dict[str, Any]] = {}
        """Each kept assessment by its id. A real program keeps these and the cursor on disk, in one transaction."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._client.close()

    def assess(self, fitting: dict[str, Any], *, corrects: str | None = None) -> dict[str, Any]:
        """Have a foot assessed and kept, once, however often it has to be sent; the brief answer.

        With ``corrects``, the id of a kept assessment, this one replaces it.
        """
        query = {"view": "brief"} | ({"corrects": corrects} if corrects else {})
        headers = {"idempotency-key": str(uuid.uuid4())}
        answer: dict[str, Any] = self._ask(
            "POST", "/v1/assessments", json=fitting, params=query, headers=headers
        ).json()
        return answer

    def whole(self, id_: str) -> dict[str, Any]:
        """All that was answered: every reading, limit, source."""
        answer: dict[str, Any] = self._ask("GET", f"/v1/assessments/{id_}").json()
        return answer

    def current(self, visit: str) -> list[dict[str, Any]]:
        """What counts of a visit: the latest of each foot, and no corrected one."""
        query = {"visit": visit, "current": "true", "limit": 200}
        listed: list[dict[str, Any]] = self._ask("GET", "/v1/assessments", params=query).json()["assessments"]
        return listed

    def follow(self, wait_s: int = 0) -> int:
        """Take what was kept since the last time, by whomever, and let go of what was erased; how many events."""
        query = {"wait": wait_s} | ({"after": self._after} if self._after else {})
        answer = self._ask("GET", "/v1/events", params=query)
        events = answer.json()
        for event in events:
            data = event["data"]
            if event["type"].startswith("fitcheck.assessment.kept.") and not data["erased"]:
                self.taken[event["id"]] = {"number": data["record"]["number"], **data["assessment"]}
            elif event["type"] == "fitcheck.records.erased.v1":
                gone = set(data["erasure"]["erased"])
                self.taken = {id_: each for id_, each in self.taken.items() if each["number"] not in gone}
        self._after = httpx.URL(answer.links["next"]["url"]).params["after"]
        return len(events)

    def _ask(self, method: str, path: str, **request: Any) -> httpx.Response:
        for tried in range(TRIES):
            try:
                answer = self._client.request(method, path, **request)
            except httpx.TransportError:
                if tried == TRIES - 1:
                    raise
            else:
                if answer.is_success:
                    return answer
                if answer.status_code not in AGAIN or tried == TRIES - 1:
                    problem = answer.json()
                    faults = [f"  {each['field']}: {each['detail']}" for each in problem["errors"]]
                    raise Refused("\n".join([problem["detail"], *faults]))
                time.sleep(float(answer.headers.get("retry-after", 0)))
            time.sleep(random.uniform(0.5, 1.0) * 0.2 * 2**tried)
        raise AssertionError("not reached")


def main(url: str, file: str) -> int:
    """Send the foot in ``file`` and say what to do; 0 where it may go on or leave."""
    with Yard(url, os.environ.get("FITCHECK_KEY")) as yard:
        try:
            answer = yard.assess(json.loads(Path(file).read_text(encoding="utf-8")))
        except Refused as error:
            print(error, file=sys.stderr)
            return 2
    print(answer["decision"], answer.get("next", ""))
    for line in (*(each["say"] for each in answer["findings"]), *answer["steps"], *answer["cautions"]):
        print(f"- {line}")
    return 0 if answer["decision"] in {"release", "go_on"} else 1  # whatever it does not know is not released


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
