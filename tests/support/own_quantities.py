"""A school's book with quantities of its own: at both heels, of the foot, and at each nail."""

from __future__ import annotations

from typing import Final

__all__ = ["OWN_BOOK", "OWN_CLINCHES", "OWN_FINISH", "OWN_GERMAN", "OWN_SOURCES"]

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
OWN_CLINCHES: Final = """[quantities.clinch_width]
title = "width of the clinch"
kind = "number"
unit = "mm"
range = [0, 20]
range_status = "own practice"
range_basis = "From a clinch that is gone to one beaten flat."
places = ["nail"]
method = "calliper"
how = "Measure each clinch across."

[quantities.bedding]
title = "bed of the clinch"
kind = "word"
words = ["bedded", "on_the_horn"]
places = ["nail"]
how = "Look whether the clinch lies in the horn."

[rules.clinch-narrow]
quantity = "clinch_width"
grade = "major"
fires = "simple"
low = 3.0
unit = "mm"
status = "own practice"
sources = ["HS"]
basis = "A narrow clinch pulls through."
finding = "The clinch of the {place} is {value} wide; {limit} is the least."
order = "nails"
caution = "next_visit"
[rules.clinch-narrow.action]
nailed = "Draw the nail and drive one that leaves enough to clinch."
finished = "Draw the nail and drive one that leaves enough to clinch."

[rules.clinch-on-the-horn]
quantity = "bedding"
grade = "major"
fires = "simple"
is = ["on_the_horn"]
unit = "word"
status = "own practice"
sources = ["HS"]
basis = "A candidate beds clinches."
finding = "The clinch of the {place} lies on the horn."
order = "finish"
caution = "next_visit"
[rules.clinch-on-the-horn.action]
nailed = "Bed the clinch."
finished = "Bed the clinch."
"""
OWN_GERMAN: Final = """[quantities.polish]
title = "Glanz des Eisens"
how = "Das Eisen bei Tageslicht ansehen."
"""
