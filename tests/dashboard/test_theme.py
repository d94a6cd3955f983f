"""Colours: results told apart by everybody, text legible in both schemes."""

from itertools import combinations

import numpy as np
import pytest

from cue_dashboard.theme import DARK, GRADE_SYMBOL, LIGHT, faded, palette_of, style_sheet, template
from cue_practice.grades import Grade

SCHEMES = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])

# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision
# deficiency", IEEE TVCG 15(6), 2009, table of the full deficiencies; on linear RGB.
SEEN_WITH = {
    "full": np.eye(3),
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
# IEC 61966-2-1 primaries to CIE XYZ, D65
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
# CIE 1976 distance: about 2.3 is just noticeable side by side; marks lie apart and are small
CLEARLY_APART = 20.0


def linear(colour):
    """Return linear RGB of #rrggbb (IEC 61966-2-1)."""
    value = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    """Return CIE L*a*b* of linear RGB."""
    share = TO_XYZ @ np.clip(rgb, 0, 1) / TO_XYZ.sum(axis=1)
    f = np.where(share > (6 / 29) ** 3, np.cbrt(share), share / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(first, second):
    """Return the contrast ratio of WCAG 2.2."""
    dark, light = sorted(float(TO_XYZ[1] @ linear(one)) for one in (first, second))
    return (light + 0.05) / (dark + 0.05)


@SCHEMES
@pytest.mark.parametrize("eyes", SEEN_WITH)
def test_results_stay_apart_whatever_colours_an_eye_can_see(palette, eyes):
    seen = [lab(np.array(SEEN_WITH[eyes]) @ linear(palette.grade(grade))) for grade in Grade]
    distances = [float(np.linalg.norm(a - b)) for a, b in combinations(seen, 2)]
    assert min(distances) > CLEARLY_APART, distances


def test_each_result_has_a_mark_of_its_own_beside_its_colour():
    assert len({GRADE_SYMBOL[grade] for grade in Grade}) == len(Grade)


@SCHEMES
def test_text_meets_the_contrast_of_wcag_double_a(palette):
    on_backgrounds = [
        contrast(text, back)
        for text in (palette.ink, palette.quiet)
        for back in (palette.page, palette.card, palette.well)
    ]
    on_buttons = [contrast(palette.on_grade, palette.grade(grade)) for grade in Grade]
    assert min(on_backgrounds + on_buttons) >= 4.5


@SCHEMES
def test_marks_meet_the_contrast_of_wcag_for_graphics(palette):
    assert min(contrast(palette.grade(grade), palette.card) for grade in Grade) >= 3.0


def test_a_faded_colour_keeps_its_hue_and_gets_its_opacity():
    assert faded("#0a141e", 0.25) == "rgba(10, 20, 30, 0.25)"


def test_an_unknown_scheme_is_light():
    assert palette_of(None) is LIGHT
    assert palette_of("dark") is DARK


def test_the_style_sheet_holds_every_colour_of_both_schemes():
    sheet = style_sheet()
    for palette in (LIGHT, DARK):
        assert all(value in sheet for value in vars(palette).values())


@SCHEMES
def test_figures_cannot_be_zoomed_by_a_thumb_that_scrolls(palette):
    layout = template(palette).layout
    assert layout.dragmode is False
    assert layout.xaxis.fixedrange
    assert layout.yaxis.fixedrange
