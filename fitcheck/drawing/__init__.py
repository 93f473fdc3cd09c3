"""The drawing of an assessed foot as SVG: seen from below, and its nails from the side.

Pure functions of a fitting, its assessment and the rulebook; nothing here judges.
"""

from fitcheck.drawing.sheet import Form, draw
from fitcheck.drawing.words import Words, read_words, shipped_words

__all__ = ["Form", "Words", "draw", "read_words", "shipped_words"]
