"""Pictures of shots: the table in plan (:mod:`cue_table.plan`) and the map of chances.

Pure functions from results to Plotly figures. Colours are the caller's to choose.
"""

import numpy as np
import plotly.graph_objects as go

from cue_table.choose import ChanceMap
from cue_table.plan import (
    DAYLIGHT,
    MOST_PATHS,
    Ink,
    Marks,
    Window,
    plan_figure,
    whole_table,
    window,
)

__all__ = [
    "DAYLIGHT",
    "MOST_PATHS",
    "Ink",
    "Marks",
    "Window",
    "map_figure",
    "plan_figure",
    "whole_table",
    "window",
]

PACE_TICKS_M_S = (0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0)
"""Labels of the axis of pace, which is logarithmic."""


def map_figure(chances: ChanceMap, *, ink: Ink = DAYLIGHT) -> go.Figure:
    """Return the chance of the right result over tip height and pace.

    Parameters
    ----------
    chances : ChanceMap
        The map.
    ink : Ink
        Colours.

    Returns
    -------
    plotly.graph_objects.Figure
        Pace in m/s across, height of the cue's axis in mm up (below the centre negative), the
        forgiving region outlined, the best stroke marked.
    """
    height_mm = -1e3 * chances.below_centre_m
    best = chances.best
    shared = {"x": chances.tip_speed_m_s, "y": height_mm}
    figure = go.Figure(
        [
            go.Heatmap(
                **shared,
                z=chances.chance,
                colorscale=ink.scale,
                zmin=0.0,
                zmax=1.0,
                colorbar={"title": "chance", "tickformat": ".0%"},
                hovertemplate="%{x:.2f} m/s, %{y:.1f} mm: %{z:.0%}<extra></extra>",
            ),
            go.Contour(
                **shared,
                z=chances.is_forgiving.astype(np.float64),
                contours={"start": 0.5, "end": 0.5, "size": 1.0, "coloring": "none"},
                line={"color": ink.paper, "width": 2},
                showscale=False,
                name="forgiving",
                hoverinfo="skip",
            ),
            go.Scatter(
                x=[best.tip_speed_m_s],
                y=[-1e3 * best.below_centre_m],
                mode="markers",
                marker={
                    "symbol": "cross-thin",
                    "size": 14,
                    "line": {"width": 3, "color": ink.paper},
                },
                name="best stroke",
                hovertemplate="best: %{x:.2f} m/s, %{y:.1f} mm<extra></extra>",
            ),
        ]
    )
    figure.update_layout(
        xaxis={"title": "tip speed (m/s)", "type": "log", "tickvals": list(PACE_TICKS_M_S)},
        yaxis={"title": "tip height (mm above centre)"},
        paper_bgcolor=ink.paper,
        plot_bgcolor=ink.paper,
        font={"color": ink.line},
        showlegend=False,
    )
    return figure
