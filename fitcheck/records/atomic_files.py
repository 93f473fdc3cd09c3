"""Files that are there whole or not at all: written beside their place, forced to disk, then put there in one step."""

from __future__ import annotations

import fcntl
import glob
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

__all__ = ["sync_folder", "whole_file", "whole_path"]


@contextmanager
def whole_path(path: Path) -> Iterator[Path]:
    """A path beside ``path``, for a new file that takes its place when the block has ended well.

    Only this user may read it, since records are about people. What a killed program left of an earlier one goes.
    Raises OSError.
    """
    path = path.resolve()
    partial = path.with_name(f".{path.name}.{secrets.token_hex(4)}.partial")
    _take_away_left(path)
    try:
        opened = os.open(partial, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error
    try:
        _locked(opened)
        yield partial
        with partial.open("rb") as written:
            os.fsync(written.fileno())
        partial.replace(path)
        sync_folder(path.parent)
    finally:
        _take_away(partial)
        os.close(opened)


def _take_away_left(path: Path) -> None:
    """Take away what was being written beside ``path`` when a program was killed."""
    for partial in path.parent.glob(f".{glob.escape(path.name)}.{'[0-9a-f]' * 8}.partial"):
        with suppress(OSError):
            opened = os.open(partial, os.O_RDONLY)
            try:
                # A program that still writes it holds its lock.
                if _locked(opened):
                    _take_away(partial)
            finally:
                os.close(opened)


def _take_away(partial: Path) -> None:
    """With what SQLite leaves beside a file where it could not go on."""
    for left in ("", "-journal", "-wal", "-shm"):
        partial.with_name(partial.name + left).unlink(missing_ok=True)


def _locked(opened: int) -> bool:
    """Whether the file is now locked for this program alone; some file systems have no such lock."""
    try:
        fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """The file ``path`` to be written; see :func:`whole_path`. A pipe or a device is written as it is."""
    if path.exists() and not path.is_file():
        with path.open("wb") as stream:
            yield stream
        return
    with whole_path(path) as partial, partial.open("wb") as stream:
        yield stream
        stream.flush()


def sync_folder(folder: Path) -> None:
    """Force to disk which files the folder has."""
    opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
