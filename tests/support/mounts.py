"""Disks of a test's own, where this user may mount any."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["mount", "small_disk_at", "unmount"]


def mount(*arguments: str | Path) -> bool:
    """Whether that could be mounted."""
    program = shutil.which("mount")
    if program is None:
        return False
    return subprocess.run([program, *arguments], check=False, capture_output=True).returncode == 0


def unmount(folder: Path) -> None:
    """Take away what was mounted last at ``folder``, also where files of it are open."""
    subprocess.run([shutil.which("umount") or "umount", "--lazy", folder], check=True)


@contextmanager
def small_disk_at(folder: Path) -> Iterator[bool]:
    """A disk of 2 MB at a new folder, for as long as the block lasts; whether it could be mounted."""
    folder.mkdir()
    if not mount("-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)):
        yield False
        return
    try:
        yield True
    finally:
        unmount(folder)
