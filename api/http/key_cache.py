"""Access keys as each server process knows them: looked up in the store, and remembered for a few seconds."""

from __future__ import annotations

import asyncio
import time
from collections import OrderedDict
from collections.abc import Callable
from typing import Final, Protocol

from fitcheck.records.keys import AccessKey, Token
from fitcheck.records.sessions import SessionToken

__all__ = ["REMEMBERED_S", "KeyChecks", "Keys"]

REMEMBERED_S: Final = 5.0
"""How long a key that was revoked may still open something, in seconds."""
_MOST: Final = 1000


class Keys(Protocol):
    """Where access keys are kept; either method may take a while and raise StoreError."""

    def any_made(self) -> bool:
        """Whether any key was ever made, revoked ones too."""

    def check(self, token: Token | SessionToken) -> AccessKey | None:
        """The key whose token this is, or that of whose session it is, revoked or not; None where there is none."""


class KeyChecks:
    """Checks tokens without holding up other requests.

    What was found is kept by the token's digest, so that no token lies in memory for longer than its request.
    """

    def __init__(self, keys: Keys, clock: Callable[[], float] = time.monotonic) -> None:
        self._keys = keys
        self._clock = clock
        self._found: OrderedDict[str, tuple[AccessKey | None, float]] = OrderedDict()
        self.made = False
        """Whether any key is known to have been made."""
        self._next_lookup = -1.0

    async def any_made(self) -> bool:
        """Whether any key was ever made; one that was made is seen within REMEMBERED_S.

        Raises StoreError.
        """
        now = self._clock()
        if not self.made and now >= self._next_lookup:
            self.made = await asyncio.to_thread(self._keys.any_made)
            self._next_lookup = now + REMEMBERED_S
        return self.made

    def known(self, token: Token | SessionToken) -> tuple[bool, AccessKey | None]:
        """Whether the token was looked up a moment ago, and the key that was found."""
        found = self._found.get(token.digest)
        if found is None or self._clock() >= found[1]:
            return False, None
        return True, found[0]

    async def look_up(self, token: Token | SessionToken) -> AccessKey | None:
        """The key whose token or session this is, revoked or not; None where there is none.

        Raises StoreError.
        """
        now = self._clock()
        key = await asyncio.to_thread(self._keys.check, token)
        self._found[token.digest] = (key, now + REMEMBERED_S)
        self._found.move_to_end(token.digest)
        if len(self._found) > _MOST:
            self._found.popitem(last=False)
        return key
