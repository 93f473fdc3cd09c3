"""Records: assessments are kept as they were answered, in a chain that shows any later change."""

from fitcheck.records.databases import SETTING, default_url
from fitcheck.records.drafts import draft_of, draft_of_override
from fitcheck.records.errors import (
    AlreadyKept,
    ErasureRefused,
    KeyReused,
    NotAStore,
    StoreDamaged,
    StoreError,
    StoreFull,
    StoreReadOnly,
    StoreTooNew,
    StoreUnavailable,
    UnknownRecord,
)
from fitcheck.records.record import EMPTY, GENESIS, Draft, Head, Idempotency, Kept, Kind, Record, Wanted
from fitcheck.records.store import Store, open_store
from fitcheck.records.verification import Fault, FaultKind, verify

__all__ = [
    "EMPTY",
    "GENESIS",
    "SETTING",
    "AlreadyKept",
    "Draft",
    "ErasureRefused",
    "Fault",
    "FaultKind",
    "Head",
    "Idempotency",
    "Kept",
    "KeyReused",
    "Kind",
    "NotAStore",
    "Record",
    "Store",
    "StoreDamaged",
    "StoreError",
    "StoreFull",
    "StoreReadOnly",
    "StoreTooNew",
    "StoreUnavailable",
    "UnknownRecord",
    "Wanted",
    "default_url",
    "draft_of",
    "draft_of_override",
    "open_store",
    "verify",
]
