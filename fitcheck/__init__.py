"""fitcheck: a second pair of eyes on a fitted horseshoe, consistent, explained and kept on record."""

__version__ = "0.1.0"
