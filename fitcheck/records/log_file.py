"""What the log of a SQLite store (``-wal``) says by itself, read without SQLite.

The format is that of https://www.sqlite.org/fileformat2.html section 4.1: a header of 32 bytes, then frames of 24 bytes
and a page each; those of the log as it is now have the salts of its header. SQLite has its locks on the store's file
and on ``-shm``, so that this one may be opened and closed beside it.
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Final

__all__ = ["first_number"]

_HEADER: Final = struct.Struct(">8xI4x8s8x")
_FRAME: Final = struct.Struct(">I4x8s8x")
_NUMBER: Final = slice(68, 72)
"""Where the first page has the application_id (section 1.3)."""
_MOST_FRAMES: Final = 10_000
"""Each transaction of this release writes the first page; one of an earlier release may not."""


def first_number(log: Path) -> int | None:
    """The ``application_id`` in the first copy of the first page that the log has; None where it has none."""
    try:
        with log.open("rb") as stream:
            header = stream.read(_HEADER.size)
            if len(header) < _HEADER.size:
                return None
            size, salts = _HEADER.unpack(header)
            for _ in range(_MOST_FRAMES):
                frame = stream.read(_FRAME.size + size)
                if len(frame) < _FRAME.size + size:
                    return None
                page, of_frame = _FRAME.unpack_from(frame)
                if of_frame != salts:
                    return None
                if page == 1:
                    return int.from_bytes(frame[_FRAME.size :][_NUMBER], "big")
    except OSError:
        return None
    return None
