"""The pictures of the pupil's page as vectors in a PDF; lengths on paper in millimetres."""

from collections.abc import Sequence

from fpdf import FPDF

from cue_practice.report_pictures import (
    CURVE_HEIGHT,
    CURVE_WIDTH,
    SPEED_HEIGHT,
    SPEED_WIDTH,
    Mark,
    PacePicture,
    PlanPicture,
    Points,
    SpeedPicture,
    Ticks,
)

Colour = tuple[int, int, int]

COLOURS: dict[str, Colour] = {"soft": (0, 114, 178), "right": (17, 17, 17), "hard": (213, 94, 0)}
"""Told apart by people who do not see all colours: M. Okabe and K. Ito, "Color universal design",
2008, from memory; shapes and dashes say the same."""

_DASHES = {"soft": (2.0, 1.2), "right": (0.0, 0.0), "hard": (0.5, 1.2)}
_FRAME: Colour = (51, 51, 51)
_FAINT: Colour = (170, 170, 170)
_BAND: Colour = (222, 222, 222)
_BALLS: dict[str, Colour] = {
    "white": (255, 255, 255),
    "object": (176, 0, 32),
    "next": (119, 119, 119),
    "other": (221, 221, 221),
}
_LABEL_MM = 3.2


def draw_pace(pdf: FPDF, picture: PacePicture, x: float, y: float, width: float) -> float:
    """Draw the chances against pace and return where the picture ends.

    Parameters
    ----------
    pdf : FPDF
        With a font set for the labels.
    picture : PacePicture
        What to draw.
    x, y, width : float
        Upper left corner of the frame and its width.
    """
    scale = width / CURVE_WIDTH
    height = CURVE_HEIGHT * scale
    pdf.set_fill_color(*_BAND)
    pdf.polygon(_placed(picture.band, x, y, scale), style="F")
    _line(pdf, ((0.0, CURVE_HEIGHT / 2.0), (CURVE_WIDTH, CURVE_HEIGHT / 2.0)), x, y, scale, _FAINT)
    best = ((picture.best_x, 0.0), (picture.best_x, CURVE_HEIGHT))
    _line(pdf, best, x, y, scale, _FRAME)
    for kind, points in (("soft", picture.soft), ("hard", picture.hard), ("right", picture.right)):
        _line(pdf, points, x, y, scale, COLOURS[kind], width_mm=0.5, dash=_DASHES[kind])
    for mark in picture.marks:
        _mark(pdf, mark, x, y, scale, 1.0)
    _frame(pdf, x, y, width, height)
    _across(pdf, picture.ticks, x, y + height, scale, f"pace, {picture.unit}", width)
    _down(pdf, ((0.0, "100 %"), (CURVE_HEIGHT / 2.0, "50 %"), (CURVE_HEIGHT, "0")), x, y, scale)
    return y + height + 2.2 * _LABEL_MM


def draw_speed(pdf: FPDF, picture: SpeedPicture, x: float, y: float, width: float) -> float:
    """Draw a stroke's speed and return where the picture ends; as :func:`draw_pace`."""
    scale = width / SPEED_WIDTH
    height = SPEED_HEIGHT * scale
    for points in picture.others:
        _line(pdf, points, x, y, scale, _FAINT)
    _line(pdf, ((0.0, picture.rest_y), (SPEED_WIDTH, picture.rest_y)), x, y, scale, _FAINT)
    hit = ((picture.hit_x, 0.0), (picture.hit_x, SPEED_HEIGHT))
    _line(pdf, hit, x, y, scale, _FRAME, dash=(1.0, 1.0))
    _line(pdf, picture.shown, x, y, scale, COLOURS["right"], width_mm=0.5)
    _frame(pdf, x, y, width, height)
    _across(pdf, picture.time_ticks, x, y + height, scale, "ms from the hit", width)
    _down(pdf, picture.speed_ticks, x, y, scale)
    return y + height + 2.2 * _LABEL_MM


def draw_plan(pdf: FPDF, picture: PlanPicture, x: float, y: float, width: float) -> float:
    """Draw the table from above and return where it ends; as :func:`draw_pace`."""
    scale = width / picture.width
    pdf.set_fill_color(244, 244, 244)
    pdf.set_draw_color(*_FRAME)
    pdf.set_line_width(0.6)
    pdf.rect(x, y, width, picture.length * scale, style="DF")
    _line(pdf, ((0.0, picture.baulk), (picture.width, picture.baulk)), x, y, scale, _FAINT)
    pdf.set_fill_color(200, 200, 200)
    pdf.polygon(_placed(picture.area, x, y, scale), style="F")
    pdf.set_line_width(0.3)
    pdf.circle(x + picture.pocket[0] * scale, y + picture.pocket[1] * scale, 60.0 * scale)
    for name, ball_x, ball_y in picture.balls:
        pdf.set_fill_color(*_BALLS[name])
        pdf.set_line_width(0.2)
        radius = max(1.6 * picture.radius * scale, 0.7)
        pdf.circle(x + ball_x * scale, y + ball_y * scale, radius, style="DF")
    for mark in picture.stops:
        _mark(pdf, mark, x, y, scale, 0.6)
    return y + picture.length * scale


def legend(pdf: FPDF, entries: Sequence[tuple[str, str]], x: float, y: float) -> float:
    """Draw what the marks mean, in a row, and return where it ends."""
    for shape, words in entries:
        _mark(pdf, Mark(0.0, 0.0, shape), x + 1.0, y + 1.5, 1.0, 1.0)
        pdf.set_xy(x + 3.0, y)
        pdf.cell(0.0, _LABEL_MM, words)
        x += 8.0 + pdf.get_string_width(words)
    return y + _LABEL_MM


def _placed(points: Points, x: float, y: float, scale: float) -> list[tuple[float, float]]:
    """Return points on the paper."""
    return [(x + px * scale, y + py * scale) for px, py in points]


def _line(
    pdf: FPDF,
    points: Points,
    x: float,
    y: float,
    scale: float,
    colour: Colour,
    *,
    width_mm: float = 0.2,
    dash: tuple[float, float] = (0.0, 0.0),
) -> None:
    """Draw a line through points."""
    if len(points) < 2:
        return
    pdf.set_draw_color(*colour)
    pdf.set_line_width(width_mm)
    pdf.set_dash_pattern(*dash)
    pdf.polyline(_placed(points, x, y, scale))
    pdf.set_dash_pattern()


def _mark(pdf: FPDF, mark: Mark, x: float, y: float, scale: float, size_mm: float) -> None:
    """Draw one result: a triangle, a disc or a square."""
    at_x, at_y = x + mark.x * scale, y + mark.y * scale
    pdf.set_fill_color(*COLOURS[mark.shape])
    if mark.shape == "soft":
        top = at_y - size_mm
        corners = [(at_x - size_mm, top), (at_x + size_mm, top), (at_x, at_y + size_mm)]
        pdf.polygon(corners, style="F")
    elif mark.shape == "right":
        pdf.circle(at_x, at_y, size_mm, style="F")
    else:
        pdf.rect(at_x - size_mm, at_y - size_mm, 2.0 * size_mm, 2.0 * size_mm, style="F")


def _frame(pdf: FPDF, x: float, y: float, width: float, height: float) -> None:
    """Draw the frame of a picture."""
    pdf.set_draw_color(*_FRAME)
    pdf.set_line_width(0.25)
    pdf.rect(x, y, width, height)


def _across(
    pdf: FPDF, ticks: Ticks, x: float, y: float, scale: float, title: str, width: float
) -> None:
    """Write the labels under a picture."""
    for at, words in ticks:
        pdf.set_xy(x + at * scale - 8.0, y + 0.4)
        pdf.cell(16.0, _LABEL_MM, words, align="C")
    pdf.set_xy(x, y + 0.4 + _LABEL_MM)
    pdf.cell(width, _LABEL_MM, title, align="C")


def _down(pdf: FPDF, ticks: Ticks, x: float, y: float, scale: float) -> None:
    """Write the labels left of a picture."""
    for at, words in ticks:
        pdf.set_xy(x - 12.0, y + at * scale - _LABEL_MM / 2.0)
        pdf.cell(11.5, _LABEL_MM, words, align="R")
