"""What the OpenAPI document says that may be answered, checked by an independent validator of JSON Schema 2020-12."""

from __future__ import annotations

import importlib
import json
from typing import Any, Final

import httpx

__all__ = ["PROBLEM", "Declared"]

PROBLEM: Final = "application/problem+json"
# It has no types of its own.
_jsonschema = importlib.import_module("jsonschema")
_SHOWN: Final = 300


class Declared:
    """The answers that the document declares."""

    def __init__(self, document: dict[str, Any]) -> None:
        self._document = document
        self._validators: dict[tuple[str, str, str, str], Any] = {}

    def faults(self, response: httpx.Response, method: str, path: str) -> list[str]:
        """What is wrong with an answer to a request at ``path``, which is written as in the document.

        A server error is always wrong, declared or not.
        """
        status = str(response.status_code)
        if response.is_server_error:
            return [f"{status}: {response.text[:_SHOWN]}"]
        responses = self._document["paths"][path][method]["responses"]
        if status not in responses:
            return [f"{status} is not declared: {response.text[:_SHOWN]}"]
        content = responses[status].get("content", {})
        kind = response.headers.get("content-type", "")
        if not content:
            return [f"{status} has a body: {response.text[:_SHOWN]}"] if response.content else []
        if kind not in content:
            return [f"{status} has content of {kind!r}"]
        try:
            values = [
                json.loads(each) for each in (response.text.splitlines() if "ndjson" in kind else [response.text])
            ]
        except ValueError as error:
            return [f"{status} is not JSON: {error}: {response.text[:_SHOWN]}"]
        validator = self._validator((path, method, status, kind), content[kind]["schema"])
        found = [
            f"{error.json_path}: {error.message[:_SHOWN]}" for each in values for error in validator.iter_errors(each)
        ]
        if kind == PROBLEM:
            found += _faults_of_problem(response, values[0])
        return found

    def _validator(self, key: tuple[str, str, str, str], schema: dict[str, Any]) -> Any:
        if key not in self._validators:
            whole = schema | {"components": self._document["components"]}
            self._validators[key] = _jsonschema.Draft202012Validator(whole)
        return self._validators[key]


def _faults_of_problem(response: httpx.Response, problem: dict[str, Any]) -> list[str]:
    """RFC 9457 asks that status be that of the answer; the rest is our own promise."""
    faults = []
    if problem["status"] != response.status_code:
        faults.append(f"the problem says {problem['status']}, the answer {response.status_code}")
    if not problem["type"].startswith("/problems/"):
        faults.append(f"a problem of the type {problem['type']}")
    faults += [
        f"{word} in {response.text[:_SHOWN]}" for word in ("Traceback", "site-packages") if word in response.text
    ]
    return faults
