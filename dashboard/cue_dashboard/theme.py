"""Colours and type: ink on chalk, ink turned over at night; colour alone belongs to the results.

Everything that is no result is drawn in ink and greys, so that a colour on the screen always means
what a shot did. Each result also has a mark of its own: a triangle pointing down, a disc, a
triangle pointing up. The three colours were chosen so that they stay apart for people with
protan, deutan and tritan colour vision (tests hold that, after Machado et al. 2009).
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import plotly.graph_objects as go

from cue_practice.grades import Grade

FONT = 'system-ui, -apple-system, "Segoe UI", "Liberation Sans", Arial, sans-serif'
"""The reader's own system type: nothing to load."""

GRADE_SYMBOL = {
    Grade.TOO_LITTLE: "triangle-down",
    Grade.RIGHT: "circle",
    Grade.TOO_MUCH: "triangle-up",
}
"""Mark of each result in figures; the style sheet draws the same three."""

PACE_COLOURS = "Cividis"
"""Scale for paces: even steps look even, also without full colour vision."""


@dataclass(frozen=True)
class Palette:
    """Colours of one scheme.

    Parameters
    ----------
    page, card, well : str
        Backgrounds: the page, a card on it, a sunken part of a card.
    ink, quiet, faint, line : str
        Text, second-rank text, marks that stay behind, hairlines.
    too_little, right, too_much : str
        The results.
    on_grade : str
        Text upon a result's colour.
    """

    page: str
    card: str
    well: str
    ink: str
    quiet: str
    faint: str
    line: str
    too_little: str
    right: str
    too_much: str
    on_grade: str

    def grade(self, grade: Grade | None) -> str:
        """Return the colour of a result; ungraded is quiet."""
        if grade is None:
            return self.quiet
        return str(getattr(self, grade.value))


LIGHT = Palette(
    page="#eef1f3",
    card="#ffffff",
    well="#f5f7f8",
    ink="#14212b",
    quiet="#52626f",
    faint="#a9b5be",
    line="#d8dfe4",
    too_little="#45329e",
    right="#05776a",
    too_much="#ad4d08",
    on_grade="#ffffff",
)
DARK = Palette(
    page="#0e151a",
    card="#172027",
    well="#10181e",
    ink="#edf2f5",
    quiet="#a3b1bb",
    faint="#566672",
    line="#2b3842",
    too_little="#a493ff",
    right="#5fe0c6",
    too_much="#ffa052",
    on_grade="#0e151a",
)


def palette_of(scheme: object) -> Palette:
    """Return the palette of a colour scheme's name, light for anything unknown."""
    return DARK if scheme == "dark" else LIGHT


def faded(colour: str, opacity: float) -> str:
    """Return a #rrggbb colour with an opacity from 0 to 1."""
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return f"rgba({red}, {green}, {blue}, {opacity:g})"


def style_sheet() -> str:
    """Return both palettes as CSS variables, so that colours are written down once."""
    return (
        _variables(":root", LIGHT)
        + _variables(':root[data-mantine-color-scheme="dark"]', DARK)
        + f":root{{--font:{FONT}}}"
    )


def _variables(selector: str, palette: Palette) -> str:
    """Return one rule of CSS variables."""
    pairs = ";".join(f"--{name.replace('_', '-')}:{value}" for name, value in vars(palette).items())
    return f"{selector}{{{pairs}}}"


def mantine_theme() -> dict[str, Any]:
    """Return the theme of the controls: ink, generous corners, large type."""
    ink = ["#f3f5f7", "#e4e9ed", "#c6cfd6", "#a3b1bb", "#7f909d"]
    ink += ["#617382", "#52626f", "#384651", "#22303a", "#14212b"]
    dark = ["#edf2f5", "#c8d2d9", "#a3b1bb", "#7b8b97", "#3a4953"]
    dark += ["#2b3842", "#1d2830", "#172027", "#10181e", "#0e151a"]
    return {
        "fontFamily": FONT,
        "headings": {"fontFamily": FONT, "fontWeight": "650"},
        "colors": {"ink": ink, "dark": dark},
        "primaryColor": "ink",
        "primaryShade": {"light": 9, "dark": 0},
        "autoContrast": True,
        "defaultRadius": "md",
        "white": LIGHT.card,
        "black": LIGHT.ink,
        "respectReducedMotion": True,
        "cursorType": "pointer",
    }


@lru_cache(maxsize=4)
def template(palette: Palette) -> go.layout.Template:
    """Return the look of every figure in one scheme."""
    return go.layout.Template(template_json(palette))


@lru_cache(maxsize=4)
def template_json(palette: Palette) -> dict[str, Any]:
    """Return the same as plotly.js takes it; never change it."""
    axis = {
        "color": palette.quiet,
        "gridcolor": palette.line,
        "linecolor": palette.line,
        "zerolinecolor": palette.line,
        "zeroline": False,
        "fixedrange": True,  # a thumb that scrolls the page must not zoom the figure
        "title": {"standoff": 8},
        "automargin": True,
    }
    return {
        "layout": {
            "font": {"family": FONT, "size": 14, "color": palette.ink},
            "paper_bgcolor": "rgba(0,0,0,0)",
            "plot_bgcolor": "rgba(0,0,0,0)",
            "colorway": [palette.ink, palette.quiet, palette.faint],
            "margin": {"l": 8, "r": 8, "t": 8, "b": 8},
            "showlegend": False,
            "dragmode": False,
            "hoverlabel": {"font": {"family": FONT, "size": 14}},
            "xaxis": axis,
            "yaxis": axis,
        }
    }
