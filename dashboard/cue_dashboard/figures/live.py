"""Live trace: speed along the cue over the last seconds."""

from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from cue_dashboard.theme import Palette, bare_figure
from cue_dashboard.units import PaceScale
from cue_signal.stroke import FloatArray

TRACE_HEIGHT_PX = 120
POINTS_PER_S = 100
"""As fine as a screen shows; a sensor may send many more."""
POINTS_KEPT = 10 * POINTS_PER_S


def live_figure(palette: Palette, scale: PaceScale) -> go.Figure:
    """Return the empty trace that the browser extends.

    Parameters
    ----------
    palette : Palette
        Colours of the scheme.
    scale : PaceScale
        Unit of pace; what is added later must be in it.
    """
    figure = bare_figure(palette, height_px=TRACE_HEIGHT_PX)
    figure.add_scatter(
        x=[], y=[], mode="lines", line={"color": palette.ink, "width": 2}, hoverinfo="skip"
    )
    figure.update_xaxes(showticklabels=False, showgrid=False, ticks="")
    figure.update_yaxes(
        range=[-1.4 * scale.factor, 3.6 * scale.factor],
        nticks=4,
        zeroline=True,
        ticksuffix=f" {scale.unit}",
        tickfont={"size": 12},
    )
    figure.update_layout(uirevision="live")
    return figure


def is_drawn(time_s: FloatArray, *, after_s: float) -> NDArray[np.bool_]:
    """Return which samples are drawn: the newer ones, and no more of them than a screen shows.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times of the samples at hand, rising.
    after_s : float
        Time of the last sample drawn so far, minus infinity for none.
    """
    slot = np.floor(time_s * POINTS_PER_S)
    is_first_of_slot = np.diff(slot, prepend=-np.inf) > 0
    return np.asarray(is_first_of_slot & (slot > np.floor(after_s * POINTS_PER_S)), dtype=np.bool_)


def live_extension(
    time_s: list[float], speed_m_s: list[float], scale: PaceScale
) -> list[dict[str, Any] | list[int] | int]:
    """Return what a graph's extendData takes for samples after those already drawn."""
    shown = [round(value * scale.factor, 3) for value in speed_m_s]
    return [{"x": [time_s], "y": [shown]}, [0], POINTS_KEPT]
