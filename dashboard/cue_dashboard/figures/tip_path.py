"""Where the tip went in the delivery, seen from above and from the side."""

from collections.abc import Callable, Sequence

import numpy as np
from scipy.integrate import cumulative_trapezoid

from cue_dashboard import words
from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.figures.speed import BEST_NAME, Drawn
from cue_dashboard.theme import Palette
from cue_dashboard.units import MM_PER_M
from cue_signal.stroke import FloatArray, Stroke, StrokeTrace

SMALLEST_REACH_MM = 6.0
"""The picture never zooms in further, so that a straight stroke looks straight."""


def way_along_cue_m(stroke: Stroke, trace: StrokeTrace) -> FloatArray:
    """Return the way along the cue at each moment, 0 at the hit, negative behind it."""
    way_m = cumulative_trapezoid(trace.speed_m_s, trace.time_s, initial=0)
    at_hit_m = float(np.interp(stroke.impact_time_s, trace.time_s, way_m))
    return np.asarray(way_m - at_hit_m, dtype=np.float64)


def from_above_figure(
    stroke: Stroke, trace: StrokeTrace, palette: Palette, *, best: Sequence[Drawn] = ()
) -> Drawing | None:
    """Return the tip's path from above, left upwards; None where the sensor cannot tell."""
    return _path_figure(
        (stroke, trace), lambda one: one.tip_lateral_m, palette, words.LEFT_RIGHT, best
    )


def from_side_figure(
    stroke: Stroke, trace: StrokeTrace, palette: Palette, *, best: Sequence[Drawn] = ()
) -> Drawing | None:
    """Return the tip's path from the side, up upwards; None where the sensor cannot tell."""
    return _path_figure(
        (stroke, trace), lambda one: one.tip_vertical_m, palette, words.UP_DOWN, best
    )


def _path_figure(
    drawn: Drawn,
    across: Callable[[StrokeTrace], FloatArray | None],
    palette: Palette,
    ends: tuple[str, str],
    best: Sequence[Drawn],
) -> Drawing | None:
    """Draw one view: backswing dotted, delivery solid, a ring where the tip met the ball."""
    stroke, trace = drawn
    across_m = across(trace)
    if across_m is None:
        return None
    way_mm = MM_PER_M * way_along_cue_m(stroke, trace)
    across_mm = MM_PER_M * across_m
    figure = Drawing(palette, height_px=230)
    line = {"color": palette.line, "width": 2}
    figure.update_layout(
        shapes=[{"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": 0, "y1": 0, "line": line}]
    )
    shown = [across_mm[_between(trace, stroke.backswing_start_s, stroke.impact_time_s)]]
    shown += [_draw_best(figure, one, across(one[1]), palette) for one in best]
    back = _between(trace, stroke.backswing_start_s, stroke.rear_s)
    forward = _between(trace, stroke.delivery_start_s, stroke.impact_time_s)
    _line(figure, way_mm[back], across_mm[back], {"color": palette.faint, "dash": "dot"})
    _line(figure, way_mm[forward], across_mm[forward], {"color": palette.ink})
    hit_mm = float(np.interp(stroke.impact_time_s, trace.time_s, across_mm))
    figure.add_scatter(
        x=[0.0],
        y=[hit_mm],
        mode="markers",
        marker={
            "size": 18,
            "color": palette.card,
            "line": {"color": palette.ink, "width": 3},
        },
        hovertemplate=f"{abs(hit_mm):.1f} mm<extra></extra>",
    )
    furthest_mm = max(float(np.max(np.abs(one_mm), initial=0)) for one_mm in shown)
    reach_mm = max(SMALLEST_REACH_MM, 1.25 * furthest_mm)
    figure.update_xaxes(title=words.WAY_BEHIND_BALL)
    ticks_mm = _ticks_mm(reach_mm)
    figure.update_yaxes(
        title=words.OFF_LINE,
        range=[-reach_mm, reach_mm],
        tickvals=ticks_mm,
        ticktext=[_tick_text(value_mm, ends) for value_mm in ticks_mm],
    )
    return figure


def _draw_best(
    figure: Drawing, drawn: Drawn, across_m: FloatArray | None, palette: Palette
) -> FloatArray:
    """Draw the delivery of a stroke to compare with; return how far off the line it went, in mm."""
    stroke, trace = drawn
    if across_m is None:
        return np.zeros(0)
    forward = _between(trace, stroke.delivery_start_s, stroke.impact_time_s)
    way_mm = MM_PER_M * way_along_cue_m(stroke, trace)[forward]
    across_mm = MM_PER_M * across_m[forward]
    figure.add_scatter(
        x=way_mm,
        y=across_mm,
        mode="lines",
        name=BEST_NAME,
        line={"color": palette.quiet, "width": 1.5, "dash": "dash"},
        hoverinfo="skip",
    )
    return np.asarray(across_mm, dtype=np.float64)


def _ticks_mm(reach_mm: float) -> list[float]:
    """Return round places to either side of the line."""
    step_mm = next(step for step in (2, 5, 10, 20, 50, 100, 1e9) if reach_mm <= 3 * step)
    return [step_mm * k for k in (-2, -1, 0, 1, 2) if abs(step_mm * k) < reach_mm]


def _tick_text(value_mm: float, ends: tuple[str, str]) -> str:
    """Return a place off the line with the side it is on."""
    if value_mm == 0:
        return "0"
    return f"{abs(value_mm):g} {ends[0] if value_mm > 0 else ends[1]}"


def _between(trace: StrokeTrace, start_s: float, stop_s: float) -> np.ndarray:
    """Return which samples lie in an interval."""
    return np.asarray((trace.time_s >= start_s) & (trace.time_s <= stop_s))


def _line(figure: Drawing, x: np.ndarray, y: np.ndarray, line: dict[str, str]) -> None:
    """Draw one part of the path."""
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"width": 3, **line},
        hovertemplate="%{y:.1f} mm<extra></extra>",
    )
