"""A yard's own book on the disk."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from tests.support.yard_books import yard_folder


@pytest.fixture
def yard(tmp_path: Path) -> Callable[..., Path]:
    """Makes the folder of a yard's book from the texts of its files."""
    return partial(yard_folder, tmp_path)
