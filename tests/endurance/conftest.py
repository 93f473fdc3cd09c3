"""What pytest leaves alone here."""

from __future__ import annotations

collect_ignore = ["schemathesis_hooks.py"]
"""Schemathesis loads it, in a process of its own."""
