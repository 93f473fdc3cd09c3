"""The drawing of an assessed foot as SVG: seen from below, and its nails from the side.

Pure functions of a fitting, its assessment and the rulebook, in whose language it speaks; nothing here judges.
"""

from fitcheck.drawing.sheet import Form, draw

__all__ = ["Form", "draw"]
