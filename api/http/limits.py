"""How much one request may ask of the service."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Limits"]

_KIB = 1024
_MIB = 1024 * _KIB


@dataclass(frozen=True, slots=True)
class Limits:
    """Sizes in bytes, and counts."""

    body: int = _MIB
    """Largest body of a single fitting; the largest fitting there can be has about a quarter of it."""
    line: int = _MIB
    """Longest line of a batch."""
    batch_memory: int = _MIB
    """How far a batch may run ahead of its answers in memory."""
    batch_disk: int = 256 * _MIB
    """How much of a batch is set aside on disk for a client that sends without reading its answers."""
    all_batches_disk: int = 512 * _MIB
    """How much of all batches of a server process together may be set aside."""
    batch_faults: int = 1000
    """How many lines of a batch may be faulty before no more of it are looked at."""
