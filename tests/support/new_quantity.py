"""A quantity that the contract does not have, added to a copy of the repository as DEVELOPERS.md says."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from typing import Final, NamedTuple

from rules import shipped_rulebook
from tests.support.paths import ROOT

__all__ = ["EDITS", "HEADINGS", "LIMIT", "PATH", "QUANTITY", "RULE", "SAID", "add", "copied", "run", "touched"]

QUANTITY: Final = "sole_depth"
PATH: Final = "hoof.sole_depth"
RULE: Final = "sole-shallow"
LIMIT: Final = 2
SAID: Final = {
    "en": "The sole lies only 0.5 mm below the bearing edge: the web will press on it.",
    "de": "Die Sohle liegt nur 0,5 mm unter dem Tragrand: Das Eisen wird auf sie drücken.",
}
HEADINGS: Final = {"en": "Depth of the sole below the edge", "de": "Tiefe der Sohle unter dem Rand"}


class Edit(NamedTuple):
    """``text`` goes in after the first ``after`` of a file, or takes its place; at its end where that is empty."""

    file: str
    after: str
    text: str
    instead: bool = False


def _rules_counted(version: str, single: int) -> str:
    return f"Rulebook {version}: {single} single rules"


_BOOK: Final = shipped_rulebook()
_VERSION: Final = "99.0.0"

EDITS: Final = (
    Edit(
        "fitcheck/fitting/hoof_and_shoe.py",
        '    """Slope of the wall to the ground at the toe (deg); a range is taken where it is not given."""\n',
        '    sole_depth: Annotated[InputValue, OfQuantity("sole_depth")] | None = None\n'
        '    """How far the dressed sole lies below the bearing edge of the wall (mm)."""\n',
    ),
    Edit(
        "fitcheck/fitting/observables.py",
        '    Row("wall_angle", _FOOT, "hoof.wall_angle", "deg"),\n',
        '    Row("sole_depth", ("sole",), "hoof.sole_depth", "mm"),\n',
    ),
    Edit(
        "rules/book/levelness.toml",
        "",
        """
[quantities.sole_depth]
title = "depth of the dressed sole below the bearing edge"
kind = "number"
unit = "mm"
range = [-10, 40]
range_status = "common practice"
range_basis = "From a dropped sole to the deepest cup."
places = ["sole"]
method = "rule"
how = "Lay a straight edge across the bearing wall in front of the point of the frog and measure down to the sole."

[rules.sole-shallow]
quantity = "sole_depth"
grade = "major"
fires = "simple"
low = 2
unit = "mm"
status = "common practice"
sources = ["trade"]
basis = "That a plain web does not lie on a flat sole is common practice; so is the figure."
finding = "The sole lies only {value} below the bearing edge: the web will press on it."
order = "iron"
shoe_off = true
caution = "hot_iron"
[rules.sole-shallow.action]
hot_fit = "Seat out the web until it is clear of the sole, and try again."
nailed = "Seat out the web until it is clear of the sole, and nail on again."
finished = "Seat out the web until it is clear of the sole, nail on, clinch and finish again."
""",
    ),
    Edit(
        "rules/languages/de/levelness.toml",
        "",
        """
[quantities.sole_depth]
title = "Tiefe der zubereiteten Sohle unter dem Tragrand"
range_basis = "Von der vorgewölbten Sohle bis zur tiefsten Wölbung."
how = "Ein Lineal vor der Strahlspitze quer über den Tragrand legen und bis zur Sohle hinab messen."

[rules.sole-shallow]
basis = "Dass ein glattes Eisen nicht auf einer flachen Sohle liegt, ist Brauch des Handwerks; ebenso das Maß."
finding = "Die Sohle liegt nur {value} unter dem Tragrand: Das Eisen wird auf sie drücken."
[rules.sole-shallow.action]
hot_fit = "Das Eisen abdachen, bis es frei von der Sohle ist, und nochmals auflegen."
nailed = "Das Eisen abdachen, bis es frei von der Sohle ist, und wieder aufnageln."
finished = "Das Eisen abdachen, bis es frei von der Sohle ist; wieder aufnageln, nieten und nacharbeiten."
""",
    ),
    Edit("fitcheck/text/de/common.toml", 'sole_thickness = "Sohlendicke"\n', 'sole_depth = "Sohlentiefe"\n'),
    *(
        Edit(
            f"fitcheck/text/{language}/page.toml",
            f'shoe_thickness = "{shoe}"\n',
            f'sole_depth = "{HEADINGS[language]}"\n',
        )
        for language, shoe in (("en", "Thickness of the shoe"), ("de", "Dicke des Eisens"))
    ),
    Edit(
        "tests/cases/levelness.toml",
        "",
        "".join(
            f"""
[[case]]
name = "Sole depth {value} mm at sole draws {what}"
rule = "sole-shallow"
where = "{where}"
source = "common practice, no source"
readings = [{{quantity = "sole_depth", place = "sole", value = {value}, u = 0.5}}]
expect = {expect}
"""
            for value, where, what, expect in (
                ("1.9", "below", "sole-shallow@sole", '["sole-shallow@sole"]'),
                ("2", "at", "nothing: at the limit of sole-shallow", "[]"),
                ("2.1", "above", "nothing: sole-shallow has nothing to say", "[]"),
            )
        ),
    ),
    Edit("tests/cases/grades.toml", "major = [\n", '  "sole-shallow",\n'),
    Edit("rules/book/book.toml", f'version = "{_BOOK.version}"', f'version = "{_VERSION}"', instead=True),
    Edit(
        "CHANGELOG.md",
        _rules_counted(_BOOK.version, len(_BOOK.rules)),
        _rules_counted(_VERSION, len(_BOOK.rules) + 1),
        instead=True,
    ),
)


def copied(to: Path) -> Path:
    """All that git keeps of the repository, as it stands in the working tree."""
    for name in _kept():
        (to / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, to / name)
    return to


def touched(copy: Path) -> set[str]:
    """The files that differ from the repository's own."""
    return {name for name in _kept() if (copy / name).read_bytes() != (ROOT / name).read_bytes()}


def _kept() -> list[str]:
    git = shutil.which("git")
    assert git is not None
    listed = subprocess.run([git, "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    return listed.decode().rstrip("\0").split("\0")


def add(copy: Path) -> None:
    """Make every edit."""
    for file, after, text, instead in EDITS:
        before = (copy / file).read_text(encoding="utf-8")
        head, found, tail = before.partition(after) if after else (before, "", "")
        assert found or not after, f"{file} has no {after!r} any more"
        (copy / file).write_text(f"{head}{'' if instead else found}{text}{tail}", encoding="utf-8")


def run(copy: Path, *command: str, ok: tuple[int, ...] = (0,)) -> str:
    """What a command says in the copy, whose own packages it takes."""
    environment = os.environ | {"PYTHONPATH": str(copy), "NO_COLOR": "1"}
    ran = subprocess.run(command, cwd=copy, env=environment, capture_output=True, text=True, check=False)
    assert ran.returncode in ok, f"{command}\n{ran.stdout}\n{ran.stderr}"
    return ran.stdout
