"""A school's book with two quantities of its own: a number at both heels and a word of the whole foot."""

from __future__ import annotations

from typing import Final

__all__ = ["OWN_BOOK", "OWN_FINISH", "OWN_GERMAN", "OWN_SOURCES"]

OWN_BOOK: Final = """[book]
id = "high-school"
title = "Rules of the High School"
version = "0.1.0"
inherits = "shipped"
inherits_version = "2.0"
"""
OWN_SOURCES: Final = '[sources.HS]\ntitle = "The High School, rules of the examination"\nyear = "2026"\n'
OWN_FINISH: Final = """[criterion]
needs = [{any_of = ["hand"], at = ["foot"]}, {any_of = ["polish"], at = ["foot"]}]

[quantities.pad_thickness]
title = "thickness of the pad under the shoe"
kind = "number"
unit = "mm"
range = [0, 30]
range_status = "own practice"
range_basis = "From no pad to the thickest that may be fitted here."
places = ["medial_heel", "lateral_heel"]
method = "calliper"
how = "Measure the pad beside the shoe at the heel."

[quantities.polish]
title = "polish of the shoe"
kind = "word"
words = ["bright", "dull", "rusty"]
places = ["foot"]
how = "Look at the shoe in daylight."

[rules.pad-thick]
quantity = "pad_thickness"
grade = "major"
fires = "simple"
high = 8.0
unit = "mm"
status = "own practice"
sources = ["HS"]
basis = "A thicker pad works loose."
finding = "The pad is {value} thick at {place}; {limit} is the most."
order = "iron"
caution = "next_visit"
[rules.pad-thick.action]
finished = "Take the shoe off and fit a thinner pad."

[rules.polish-lost]
quantity = "polish"
grade = "minor"
fires = "simple"
is = ["dull", "rusty"]
unit = "word"
status = "own practice"
sources = ["HS"]
basis = "A candidate hands over clean work."
finding = "The shoe is {word}."
order = "finish"
caution = "next_visit"
[rules.polish-lost.action]
finished = "Brush the shoe clean."
"""
OWN_GERMAN: Final = """[quantities.polish]
title = "Glanz des Eisens"
how = "Das Eisen bei Tageslicht ansehen."
"""
