"""What is sent as it stands: entity tags, 304, and compression where the request takes it (RFC 9110)."""

from __future__ import annotations

import gzip
from collections.abc import Callable

import httpx
import pytest

Ask = Callable[..., httpx.Response]


def test_the_rulebook_is_asked_for_again_by_its_entity_tag(ask: Ask) -> None:
    first = ask("GET", "/v1/rulebook")
    assert first.headers["cache-control"] == "no-cache"
    for sent in (first.headers["etag"], f'"other", W/{first.headers["etag"]}', "*"):
        again = ask("GET", "/v1/rulebook", headers={"if-none-match": sent})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["etag"] == first.headers["etag"]
    assert ask("GET", "/v1/rulebook", headers={"if-none-match": '"other"'}).status_code == 200


def test_the_rulebook_in_another_language_has_another_entity_tag(ask: Ask) -> None:
    english, german = (ask("GET", "/v1/rulebook", params={"lang": lang}) for lang in ("en", "de"))
    assert english.headers["etag"] != german.headers["etag"]
    again = ask("GET", "/v1/rulebook", params={"lang": "de"}, headers={"if-none-match": english.headers["etag"]})
    assert again.status_code == 200
    assert {"accept-language", "accept-encoding"} <= {
        each.strip().lower() for each in german.headers["vary"].split(",")
    }


@pytest.mark.parametrize(
    ("accepted", "packed"),
    [("gzip", True), ("br;q=1.0, GZIP;q=0.5", True), ("identity", False), ("gzip;q=0", False), ("br", False)],
)
def test_it_is_compressed_where_that_is_taken(ask: Ask, accepted: str, *, packed: bool) -> None:
    plain = ask("GET", "/v1/rulebook", headers={"accept-encoding": "identity"})
    answer = ask("GET", "/v1/rulebook", headers={"accept-encoding": accepted})
    assert (answer.headers.get("content-encoding") == "gzip") is packed
    assert answer.content == plain.content
    length = int(answer.headers["content-length"])
    assert length == len(gzip.compress(plain.content, mtime=0) if packed else plain.content)
    assert length < len(plain.content) / 3 or not packed
