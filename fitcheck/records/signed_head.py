"""A head of the chain, signed: a proof that lies elsewhere and that nobody without the key can write.

Ed25519 (RFC 8032) over the head in canonical JSON (RFC 8785). With the head it names what each access key was, since
keys lie beside the chain: later one may be revoked, and new ones may come, but none may change, go, or open again.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final, NamedTuple, Self

import sqlalchemy as sa
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, load_pem_private_key

from fitcheck.errors import FitcheckError
from fitcheck.records.appending import plain_head
from fitcheck.records.atomic_files import sync_folder
from fitcheck.records.chain import canonical
from fitcheck.records.erasure import ERASED_NAME
from fitcheck.records.record import Head
from fitcheck.records.store import Store
from fitcheck.records.tables import access_keys
from fitcheck.records.verification import Fault

__all__ = ["NotSigned", "SignedHead", "key_faults", "sign_head", "signed_head_in"]

_PREFIX: Final = "ed25519:"
_MEANS: Final = b"fitcheck head 1\n"
"""Before what is signed, so that a signature of another thing is none of a head."""
_LASTING: Final = tuple(name for name in access_keys.c.keys() if name not in {"revoked", "last_used"})  # noqa: SIM118  (columns)
_LONGEST: Final = 64 * 1024 * 1024


class NotSigned(FitcheckError):
    """The file is no signed head, its signature does not fit, or the key is none."""


class SignedHead(NamedTuple):
    """A head as it was signed."""

    head: Head
    created: str
    """When, by the signer's clock; RFC 3339 in UTC."""
    keys: Mapping[str, tuple[str, bool]]
    """By the id of each access key, the digest of what never changes of it, and whether it was revoked."""
    columns: tuple[str, ...]
    """Those of an access key that never change, as they were then."""
    signed_by: str
    """The public key: ``ed25519:`` and base64. It proves something only to whom it is known from elsewhere."""

    @classmethod
    def of(cls, document: Mapping[str, Any], signed_by: str) -> Self:
        """The head in the JSON that was signed. Raises KeyError, TypeError, ValueError where it is none."""
        keys = {id_: (str(one["digest"]), bool(one["revoked"])) for id_, one in document["access_keys"].items()}
        head = Head(int(document["number"]), str(document["digest"]))
        return cls(head, str(document["created"]), keys, tuple(document["access_key_columns"]), signed_by)


def sign_head(store: Store, key_file: Path, created: str) -> tuple[bytes, str]:
    """The signed head of ``store`` as a line of JSON, and the public key.

    The private key is that of ``key_file`` (PEM, PKCS #8), made where there is none. Raises NotSigned, StoreError,
    OSError.
    """
    key = _private_key(key_file)
    with store.snapshot() as connection:
        head = plain_head(connection)
        keys = {id_: {"digest": digest, "revoked": revoked} for id_, digest, revoked in _keys(connection, _LASTING)}
    document = {
        "number": head.number,
        "digest": head.digest,
        "created": created,
        "access_key_columns": list(_LASTING),
        "access_keys": keys,
    }
    public = _PREFIX + base64.b64encode(key.public_key().public_bytes_raw()).decode("ascii")
    signature = base64.b64encode(key.sign(_MEANS + canonical(document))).decode("ascii")
    return canonical({"head": document, "signed_by": public, "signature": signature}) + b"\n", public


def signed_head_in(file: Path, public_key: str | None = None) -> SignedHead:
    """The signed head in a file that :func:`sign_head` made; ``public_key`` is the one that must have signed it.

    Raises NotSigned, OSError.
    """
    with file.open("rb") as stream:
        raw = stream.read(_LONGEST)
    try:
        found = json.loads(raw)
        document, signed_by = found["head"], str(found["signed_by"])
        key = Ed25519PublicKey.from_public_bytes(base64.b64decode(signed_by.removeprefix(_PREFIX), validate=True))
        key.verify(base64.b64decode(found["signature"], validate=True), _MEANS + canonical(document))
        signed = SignedHead.of(document, signed_by)
    except InvalidSignature as error:
        raise NotSigned("The signature does not fit: this head, or its signature, was changed.") from error
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, binascii.Error) as error:
        raise NotSigned("This is no head that fitcheck signed.") from error
    if public_key is not None and signed_by != public_key:
        raise NotSigned(f"Another key signed this head: {signed_by}.")
    return signed


def key_faults(store: Store, signed: SignedHead) -> Iterator[Fault]:
    """Every access key that is not as it was when the head was signed, or later revoked. Raises StoreError.

    One that lost its name with the person whose it was is revoked, and opens nothing.
    """
    with store.snapshot() as connection:
        now = {id_: (digest, revoked) for id_, digest, revoked in _keys(connection, signed.columns)}
        key = access_keys.c
        nameless = sa.select(key.id).where(key.holder == "person", key.name == ERASED_NAME, key.revoked.is_not(None))
        erased = set(connection.execute(nameless).scalars())
    for id_, (digest, revoked) in sorted(signed.keys.items()):
        if id_ not in now:
            yield Fault(0, "key", f"Access key {id_} is gone.")
        elif now[id_][0] != digest and id_ not in erased:
            yield Fault(0, "key", f"Access key {id_} is not what it was: its name, token, scopes or time is another.")
        elif revoked and not now[id_][1]:
            yield Fault(0, "key", f"Access key {id_} was revoked, and opens again.")


def _keys(connection: sa.Connection, columns: Iterable[str]) -> Iterator[tuple[str, str, bool]]:
    for row in connection.execute(sa.select(access_keys).order_by(access_keys.c.id)):
        lasting = {name: getattr(row, name, None) for name in columns}
        yield row.id, "sha256:" + hashlib.sha256(canonical(lasting)).hexdigest(), row.revoked is not None


def _private_key(file: Path) -> Ed25519PrivateKey:
    try:
        opened = os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        return _private_key_in(file)
    key = Ed25519PrivateKey.generate()
    with os.fdopen(opened, "wb") as stream:
        stream.write(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
        stream.flush()
        os.fsync(stream.fileno())
    sync_folder(file.resolve().parent)
    return key


def _private_key_in(file: Path) -> Ed25519PrivateKey:
    try:
        key = load_pem_private_key(file.read_bytes(), password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise NotSigned(f"{file} is no private key (PEM, PKCS #8, without a password).") from error
    if not isinstance(key, Ed25519PrivateKey):
        raise NotSigned(f"{file} is no key for Ed25519.")
    return key
