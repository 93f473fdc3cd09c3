"""The digest of the shipped book as it was checked; ``python -m rules.loading.write_checked`` makes this file."""

from typing import Final

__all__ = ["CHECKED"]

CHECKED: Final = "sha256:f3ade14a2208e68e870f90b88f63a26345bb1a16b9ea9dfc5e4470a785149f0f"
