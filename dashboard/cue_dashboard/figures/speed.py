"""One stroke's speed along the cue, its phases shaded, and the last moments before the hit."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from tsdownsample import MinMaxLTTBDownsampler

from cue_dashboard import words
from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.theme import Palette, faded
from cue_dashboard.units import PaceScale
from cue_signal.stroke import Stroke, StrokeTrace

POINTS_DRAWN = 900
LEAD_IN_S = 0.9
"""Shown before the final backswing, so that the rest at the ball can be seen."""
LEAD_OUT_S = 0.4
HIT_WINDOW_S = 0.1
MEAN_WINDOW_S = 0.02
"""Window of accel_at_hit_m_s2, see cue_signal.stroke."""
LEVEL_M_S2 = 1.0
"""Between the dotted lines the cue's speed counts as level, see cue_signal.stroke."""
WIDE_PHASE_SHARE = 0.2
"""A phase that takes less of the width has its name written upright."""


BEST_NAME = "best"
PIN_NAME = "remarks"


@dataclass(frozen=True)
class Phase:
    """A part of the stroke.

    Parameters
    ----------
    name : str
        In the player's words.
    start_s, stop_s : float
        Seconds from the hit.
    """

    name: str
    start_s: float
    stop_s: float


@dataclass(frozen=True)
class Pin:
    """A remark's mark on the curve.

    Parameters
    ----------
    number : int
        Its place in the list beside the figure.
    at_s : float
        Seconds from the hit.
    text : str
        Shown when it is pointed at.
    """

    number: int
    at_s: float
    text: str


Drawn = tuple[Stroke, StrokeTrace]
"""A stroke with its course."""


def phases(stroke: Stroke) -> tuple[Phase, ...]:
    """Return the parts of a stroke in order, in seconds from the hit."""
    hit_s = stroke.impact_time_s
    # the rearmost point lies anywhere within a long pause: its length says where it began
    pause_start_s = min(stroke.rear_s, stroke.delivery_start_s - stroke.rear_pause_s)
    edges = (
        stroke.backswing_start_s - hit_s,
        max(pause_start_s, stroke.backswing_start_s) - hit_s,
        stroke.delivery_start_s - hit_s,
        0.0,
        stroke.follow_through_end_s - hit_s,
    )
    return tuple(
        Phase(name, start_s, stop_s)
        for name, start_s, stop_s in zip(words.PHASES, edges[:-1], edges[1:], strict=True)
        if stop_s > start_s
    )


def speed_figure(
    stroke: Stroke,
    trace: StrokeTrace,
    palette: Palette,
    scale: PaceScale,
    *,
    best: Sequence[Drawn] = (),
    pins: Sequence[Pin] = (),
) -> Drawing:
    """Return the speed curve from the rest at the ball to the hold.

    Parameters
    ----------
    stroke : Stroke
        Events and measures.
    trace : StrokeTrace
        Its course.
    palette : Palette
        Colours of the scheme.
    scale : PaceScale
        Unit of pace.
    best : sequence of (Stroke, StrokeTrace)
        Strokes to lay it over, thin and dashed, hit upon hit.
    pins : sequence of Pin
        Remarks to number on the curve.
    """
    start_s = stroke.backswing_start_s - LEAD_IN_S
    stop_s = stroke.follow_through_end_s + LEAD_OUT_S
    time_s, speed_m_s = _thinned(trace.time_s, trace.speed_m_s, start_s, stop_s)
    figure = Drawing(palette, height_px=380)
    figure.update_layout(clickanywhere=True)
    _shade_phases(figure, stroke, palette, width_s=stop_s - start_s)
    shown_s = (start_s - stroke.impact_time_s, stop_s - stroke.impact_time_s)
    for one, course in best:
        _draw_best(figure, one, course, palette, scale, shown_s)
    figure.add_scatter(
        x=time_s - stroke.impact_time_s,
        y=speed_m_s * scale.factor,
        mode="lines",
        line={"color": palette.ink, "width": 3},
        hovertemplate=f"%{{y:.2f}} {scale.unit}<extra></extra>",
    )
    _draw_pins(figure, stroke, trace, pins, palette, scale)
    _mark_peak_and_hit(figure, stroke, palette, scale)
    figure.update_xaxes(title=words.TIME_FROM_HIT, range=shown_s)
    tops_m_s = [stroke.peak_speed_m_s, *(one.peak_speed_m_s for one, _ in best)]
    top_m_s = max(float(np.max(speed_m_s, initial=0.0)), *tops_m_s)
    low_m_s = float(np.min(speed_m_s, initial=0.0))
    figure.update_yaxes(
        title=words.SPEED_ALONG_CUE.format(unit=scale.unit),
        zeroline=True,
        range=[(low_m_s - 0.1 * top_m_s) * scale.factor, 1.4 * top_m_s * scale.factor],
    )
    return figure


def hit_figure(stroke: Stroke, trace: StrokeTrace, palette: Palette) -> Drawing:
    """Return the acceleration over the last tenth of a second before the hit.

    Parameters
    ----------
    stroke : Stroke
        Events and measures.
    trace : StrokeTrace
        Its course.
    palette : Palette
        Colours of the scheme.
    """
    from_hit_s = trace.time_s - stroke.impact_time_s
    is_near = (from_hit_s >= -HIT_WINDOW_S) & (from_hit_s < 0.0)
    mean, sd = stroke.accel_at_hit_m_s2, stroke.accel_at_hit_sd_m_s2
    figure = Drawing(palette, height_px=260)
    band = {
        "type": "rect",
        "x0": -1e3 * MEAN_WINDOW_S,
        "x1": 0,
        "y0": mean - 2 * sd,
        "y1": mean + 2 * sd,
        "fillcolor": faded(palette.ink, 0.16),
        "line": {"width": 0},
    }
    edges = [
        {
            "type": "line",
            "xref": "paper",
            "x0": 0,
            "x1": 1,
            "y0": edge_m_s2,
            "y1": edge_m_s2,
            "line": {"color": palette.faint, "width": 1, "dash": "dot"},
            "layer": "below",
        }
        for edge_m_s2 in (-LEVEL_M_S2, LEVEL_M_S2)
    ]
    figure.update_layout(shapes=[band, *edges])
    figure.add_scatter(
        x=1e3 * from_hit_s[is_near],
        y=trace.accel_m_s2[is_near],
        mode="lines+markers",
        line={"color": palette.quiet, "width": 2},
        marker={"size": 5},
        hovertemplate="%{y:.1f} m/s²<extra></extra>",
    )
    figure.add_scatter(
        x=[-1e3 * MEAN_WINDOW_S, 0],
        y=[mean, mean],
        mode="lines",
        line={"color": palette.ink, "width": 4},
        hovertemplate=f"{mean:+.1f} m/s²<extra></extra>",
    )
    figure.update_xaxes(title=words.MS_BEFORE_HIT, range=[-1e3 * HIT_WINDOW_S - 4, 2])
    figure.update_yaxes(
        title=words.ACCELERATION, zeroline=True, zerolinewidth=2, nticks=6, rangemode="tozero"
    )
    return figure


def _draw_best(
    figure: Drawing,
    stroke: Stroke,
    trace: StrokeTrace,
    palette: Palette,
    scale: PaceScale,
    shown_s: tuple[float, float],
) -> None:
    """Draw a stroke to compare with, its hit upon the other's."""
    hit_s = stroke.impact_time_s
    time_s, speed_m_s = _thinned(
        trace.time_s, trace.speed_m_s, hit_s + shown_s[0], hit_s + shown_s[1]
    )
    figure.add_scatter(
        x=time_s - hit_s,
        y=speed_m_s * scale.factor,
        mode="lines",
        name=BEST_NAME,
        line={"color": palette.quiet, "width": 1.5, "dash": "dash"},
        hoverinfo="skip",
    )


def _draw_pins(
    figure: Drawing,
    stroke: Stroke,
    trace: StrokeTrace,
    pins: Sequence[Pin],
    palette: Palette,
    scale: PaceScale,
) -> None:
    """Mark the remarks on the curve with their numbers."""
    if not pins:
        return
    at_s = [pin.at_s for pin in pins]
    speed_m_s = np.interp(stroke.impact_time_s + np.array(at_s), trace.time_s, trace.speed_m_s)
    figure.add_scatter(
        x=at_s,
        y=speed_m_s * scale.factor,
        mode="markers+text",
        name=PIN_NAME,
        marker={
            "size": 26,
            "symbol": "square",
            "color": palette.card,
            "line": {"color": palette.ink, "width": 2},
        },
        text=[f"<b>{pin.number}</b>" for pin in pins],
        textfont={"color": palette.ink, "size": 14},
        customdata=[_safe(pin.text) for pin in pins],
        hovertemplate="%{customdata}<extra></extra>",
    )


def _safe(text: str) -> str:
    """Return a text that a figure shows as it is: figures read some tags of HTML as style."""
    return escape(text, quote=False)


def _thinned(
    time_s: np.ndarray, value: np.ndarray, start_s: float, stop_s: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return what lies in the window, thinned for the screen without losing peaks."""
    is_shown = (time_s >= start_s) & (time_s <= stop_s)
    time_s, value = time_s[is_shown], value[is_shown]
    if time_s.size <= POINTS_DRAWN:
        return time_s, value
    kept = MinMaxLTTBDownsampler().downsample(time_s, value, n_out=POINTS_DRAWN)
    return time_s[kept], value[kept]


def _shade_phases(figure: Drawing, stroke: Stroke, palette: Palette, *, width_s: float) -> None:
    """Shade every second phase and write its name at the top."""
    shapes, names = [], []
    for number, phase in enumerate(phases(stroke)):
        shapes.append(
            {
                "type": "rect",
                "x0": phase.start_s,
                "x1": phase.stop_s,
                "yref": "paper",
                "y0": 0,
                "y1": 1,
                "fillcolor": faded(palette.ink, 0.10 if number % 2 else 0.04),
                "line": {"width": 0},
                "layer": "below",
            }
        )
        is_wide = (phase.stop_s - phase.start_s) / width_s > WIDE_PHASE_SHARE
        names.append(
            {
                "x": (phase.start_s + phase.stop_s) / 2,
                "y": 0.985,
                "yref": "paper",
                "yanchor": "top",
                "text": phase.name,
                "textangle": 0 if is_wide else -90,
                "showarrow": False,
                "font": {"color": palette.quiet, "size": 13},
            }
        )
    figure.update_layout(shapes=shapes, annotations=names)


def _mark_peak_and_hit(figure: Drawing, stroke: Stroke, palette: Palette, scale: PaceScale) -> None:
    """Mark the fastest moment with a ring and the hit with a disc and its uncertainty."""
    figure.add_scatter(
        x=[stroke.peak_time_s - stroke.impact_time_s],
        y=[stroke.peak_speed_m_s * scale.factor],
        mode="markers",
        marker={
            "size": 13,
            "color": palette.card,
            "line": {"color": palette.ink, "width": 2},
        },
        hovertemplate=words.FASTEST.format(pace=scale.text(stroke.peak_speed_m_s))
        + "<extra></extra>",
    )
    figure.add_scatter(
        x=[0.0],
        y=[stroke.tip_speed_m_s * scale.factor],
        error_y={
            "type": "constant",
            "value": 2 * stroke.tip_speed_sd_m_s * scale.factor,
            "color": palette.ink,
            "thickness": 2,
        },
        mode="markers",
        marker={"size": 11, "color": palette.ink},
        hovertemplate=words.AT_THE_HIT.format(pace=scale.text(stroke.tip_speed_m_s))
        + "<extra></extra>",
    )
