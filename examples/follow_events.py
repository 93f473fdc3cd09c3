"""Follow a fitcheck service: every assessment, override and erasure that it keeps, into a SQLite file of your own.

    export FITCHECK_KEY=hoof_...       # a key with the scope "read", where the service asks for one
    python follow_events.py http://127.0.0.1:8750 taken.sqlite3

Needs Python 3.11 or later and nothing else. What keeps it right whatever happens:

- What a batch brings and the cursor to go on from are written in one transaction. Killed at any moment, it goes on from
  the last batch that is in the file, and asks again for the one that is not.
- An event that comes twice has the same source and id, and is taken once.
- Each record names the digest of the one before it, so that a gap cannot go unseen.
- A service that is away, busy or starting again is asked again, after longer and longer pauses.
- Of what the yard erases, the content is erased here too.

Where the service says that a cursor is not of its store, it has another store now, or one that was put back to an
earlier state. To begin again at its first record:

    sqlite3 taken.sqlite3 'UPDATE place SET cursor = NULL, digest = NULL'
"""

from __future__ import annotations

import http.client
import json
import os
import random
import re
import sqlite3
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, NamedTuple

LIMIT = 100  # events in a batch
WAIT_S = 30  # how long the service may wait for something to tell, seconds
PATIENCE_S = WAIT_S + 15  # how long we wait for the service, seconds
SHORTEST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 30.0
ERASED = "fitcheck.records.erased.v1"
SCHEMA = """
PRAGMA secure_delete = ON;
CREATE TABLE IF NOT EXISTS taken (
    source TEXT, id TEXT, number INTEGER, type TEXT, event TEXT, PRIMARY KEY (source, id)
);
CREATE TABLE IF NOT EXISTS place (one INTEGER PRIMARY KEY CHECK (one = 1), cursor TEXT, digest TEXT);
INSERT OR IGNORE INTO place VALUES (1, NULL, NULL);
"""


class Stop(Exception):
    """What asking again cannot put right."""


class Later(Exception):
    """The service cannot answer just now; ``seconds``: when it says to ask again, if it does."""

    def __init__(self, why: str, seconds: float = 0.0) -> None:
        self.seconds = seconds
        super().__init__(why)


class Batch(NamedTuple):
    """Some events, and the cursor to go on from."""

    events: list[dict[str, Any]]
    cursor: str


class NoRedirects(urllib.request.HTTPRedirectHandler):
    """The key is for the service that was named, and for none that it points to."""

    def redirect_request(self, *_: Any) -> None:
        """Follow none."""


def ask(service: str, cursor: str | None, key: str | None) -> Batch:
    """Ask for what follows ``cursor``; without one, from the first record on. Raises Later or Stop."""
    query = {"limit": LIMIT, "wait": WAIT_S} | ({} if cursor is None else {"after": cursor})
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    request = urllib.request.Request(f"{service}/v1/events?{urllib.parse.urlencode(query)}", headers=headers)
    try:
        with urllib.request.build_opener(NoRedirects).open(request, timeout=PATIENCE_S) as answer:
            return Batch(json.loads(answer.read()), next_cursor(answer.headers))
    except urllib.error.HTTPError as error:
        told = error.read(2000).decode("utf-8", "replace")
        if error.code == HTTPStatus.TOO_MANY_REQUESTS or error.code >= HTTPStatus.INTERNAL_SERVER_ERROR:
            after = error.headers.get("Retry-After", "")
            raise Later(f"{error.code}", float(after) if after.isdecimal() else 0.0) from error
        raise Stop(f"The service refuses: {error.code} {told!a}") from error
    except (OSError, http.client.HTTPException, ValueError) as error:
        # Not there, gone halfway through the answer, or something else answered in its place.
        raise Later(type(error).__name__) from error


def next_cursor(headers: Mapping[str, str]) -> str:
    """The cursor in the header Link. Only ``after`` is taken from it: where to ask is not for the answer to say."""
    link = re.fullmatch(r'<[^>]*[?&]after=([^&>]+)[^>]*>; rel="next"', headers.get("Link", ""))
    if link is None:
        raise ValueError("no cursor")
    return urllib.parse.unquote(link[1])


def take(file: sqlite3.Connection, batch: Batch) -> None:
    """Take what is new of the batch and note the cursor: both or, where anything fails, neither. Raises Stop."""
    with file:  # one transaction
        file.execute("BEGIN IMMEDIATE")
        (digest,) = file.execute("SELECT digest FROM place").fetchone()
        for event in batch.events:
            record = event["data"]["record"]
            if record["previous"] != (digest or "sha256:" + "0" * 64):
                raise Stop(f"Record {record['number']} does not follow the one that was taken before it.")
            digest = record["digest"]
            new = file.execute(
                "INSERT OR IGNORE INTO taken VALUES (?, ?, ?, ?, ?)",
                (event["source"], event["id"], record["number"], event["type"], json.dumps(event)),
            )
            if new.rowcount:
                handle(file, event)
        file.execute("UPDATE place SET cursor = ?, digest = ?", (batch.cursor, digest))


def handle(file: sqlite3.Connection, event: dict[str, Any]) -> None:
    """Do here, in the same transaction, what you want of a new event. Pass over types that you do not know."""
    if event["type"] == ERASED:
        gone = [(event["source"], number) for number in event["data"]["erasure"]["erased"]]
        file.executemany("UPDATE taken SET event = NULL WHERE source = ? AND number = ?", gone)


def follow(service: str, file: sqlite3.Connection, key: str | None) -> None:
    """Follow the service until the process ends. Raises Stop."""
    pause = SHORTEST_PAUSE_S
    while True:
        (cursor,) = file.execute("SELECT cursor FROM place").fetchone()
        try:
            batch = ask(service, cursor, key)
        except Later as why:
            # Not all who follow should come back at the same moment.
            seconds = max(why.seconds, pause * random.uniform(0.5, 1.0))
            print(f"The service does not answer ({why}); asking again in {seconds:.1f} s.", file=sys.stderr)
            time.sleep(seconds)
            pause = min(2 * pause, LONGEST_PAUSE_S)
            continue
        pause = SHORTEST_PAUSE_S
        take(file, batch)
        for event in batch.events:
            print(ascii(event["sequence"]), ascii(event["type"]), ascii(event.get("subject")), flush=True)


def main() -> int:
    """Run with the arguments: the service's address, and the file."""
    try:
        _, service, name = sys.argv
    except ValueError:
        print(__doc__, file=sys.stderr)
        return 2
    file = sqlite3.connect(name, timeout=30, isolation_level=None)
    file.executescript(SCHEMA)
    try:
        follow(service.rstrip("/"), file, os.environ.get("FITCHECK_KEY"))
    except Stop as why:
        print(why, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130
    finally:
        file.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
