"""Records: assessments are kept as they were answered, in a chain that shows any later change."""

from fitcheck.records.databases import SETTING, default_url
from fitcheck.records.drafts import draft_of, draft_of_override
from fitcheck.records.errors import (
    AlreadyStored,
    ErasureRefused,
    KeyReused,
    NotAStore,
    StoreDamaged,
    StoreError,
    StoreFull,
    StoreReadOnly,
    StoreTooNew,
    StoreUnavailable,
    TooManyRecords,
    UnknownRecord,
)
from fitcheck.records.record import EMPTY, GENESIS, Draft, Head, Idempotency, Kind, Record, RecordFilter, StoredRecord
from fitcheck.records.store import Store, open_store
from fitcheck.records.verification import Fault, FaultKind, verify

__all__ = [
    "EMPTY",
    "GENESIS",
    "SETTING",
    "AlreadyStored",
    "Draft",
    "ErasureRefused",
    "Fault",
    "FaultKind",
    "Head",
    "Idempotency",
    "KeyReused",
    "Kind",
    "NotAStore",
    "Record",
    "RecordFilter",
    "Store",
    "StoreDamaged",
    "StoreError",
    "StoreFull",
    "StoreReadOnly",
    "StoreTooNew",
    "StoreUnavailable",
    "StoredRecord",
    "TooManyRecords",
    "UnknownRecord",
    "default_url",
    "draft_of",
    "draft_of_override",
    "open_store",
    "verify",
]
