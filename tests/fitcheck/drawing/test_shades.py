"""Grades are told apart by shape and word, and their shades in grey and by colour-blind eyes as well."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Final

import numpy as np
import pytest

from fitcheck.drawing.markers import marker
from fitcheck.drawing.shades import BAND, GRADES, HORN, INK, IRON, PAPER, SCORCHED, UNSEEN
from fitcheck.text.catalogue import messages_in

# Machado, Oliveira and Fernandes 2009, "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE
# Transactions on Visualization and Computer Graphics 15(6), severity 1.0: on linear RGB, a row for each of R, G, B.
EYES: Final = {
    "usual": np.identity(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
    # Grey is the luminance of WCAG 2.2, the same for each of the three.
    "grey": np.tile([0.2126, 0.7152, 0.0722], (3, 1)),
}
WEIGHTS: Final = np.array([0.2126, 0.7152, 0.0722])


def linear(colour: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Linear RGB of a colour such as #a0b1c2 (WCAG 2.2, "relative luminance")."""
    channels = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def luminance(colour: str, eye: str = "usual") -> float:
    """Relative luminance (WCAG 2.2) as that eye sees it."""
    return float(np.clip(EYES[eye] @ linear(colour), 0, 1) @ WEIGHTS)


def contrast(one: str, other: str, eye: str = "usual") -> float:
    """Contrast ratio (WCAG 2.2): (L1 + 0.05) / (L2 + 0.05), the lighter first."""
    lighter, darker = sorted((luminance(one, eye), luminance(other, eye)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def lightness(colour: str, eye: str) -> float:
    """L* of CIE 1976, from 0 for black to 100 for white."""
    y = luminance(colour, eye)
    return 116 * float(np.cbrt(y)) - 16 if y > (6 / 29) ** 3 else y * (29 / 3) ** 3


def test_the_formula_gives_the_ratios_that_are_known() -> None:
    # WCAG 2.2: black on white is 21:1; #767676 is the lightest grey that passes 4.5:1 on white (WebAIM).
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert lightness("#777777", "usual") == pytest.approx(50.03, abs=0.02)  # sRGB grey 119 is the usual middle grey


@pytest.mark.parametrize("eye", EYES)
def test_text_reads_on_what_it_stands_on(eye: str) -> None:
    # WCAG 2.2, 1.4.3: 4.5:1 for text.
    pairs = [
        (INK, PAPER),
        (UNSEEN, PAPER),
        (INK, IRON),
        (INK, BAND),
        *((each.number, each.fill) for each in GRADES.values()),
    ]
    for text, ground in pairs:
        assert contrast(text, ground, eye) >= 4.5, (text, ground)


@pytest.mark.parametrize("eye", EYES)
def test_lines_and_markers_stand_out_from_the_paper(eye: str) -> None:
    # WCAG 2.2, 1.4.11: 3:1 for parts of a graphic that are needed to understand it.  Pale shades are bounded by INK.
    for line in (INK, UNSEEN, HORN):
        assert contrast(line, PAPER, eye) >= 3
    assert contrast(HORN, IRON, eye) >= 3


@pytest.mark.parametrize("eye", EYES)
def test_grades_differ_in_lightness_the_graver_the_darker(eye: str) -> None:
    light = [lightness(GRADES[grade].fill, eye) for grade in ("minor", "major", "critical")]
    assert all(lighter - darker >= 15 for lighter, darker in pairwise(light)), light


@pytest.mark.parametrize("eye", EYES)
def test_surfaces_differ_in_lightness(eye: str) -> None:
    for one, other in combinations((PAPER, IRON, SCORCHED, HORN), 2):
        assert abs(lightness(one, eye) - lightness(other, eye)) >= 8, (one, other)


def test_the_shape_alone_tells_the_grade() -> None:
    shapes = {grade: marker(1, grade, 0.0, 0.0).content[0] for grade in GRADES}
    assert {grade: getattr(shape, "tag", "") for grade, shape in shapes.items()} == {
        "minor": "circle",
        "major": "rect",
        "critical": "path",
    }


def test_the_word_alone_tells_the_grade() -> None:
    messages = messages_in("en")
    assert len({messages.say(f"view.grade.{grade}").casefold() for grade in GRADES}) == len(GRADES)
