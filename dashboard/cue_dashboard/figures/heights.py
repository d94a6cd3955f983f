"""Tip heights of one set-up compared: where each has its best pace and how much room it gives."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import plotly.graph_objects as go

from cue_dashboard import words
from cue_dashboard.theme import Palette, bare_figure, faded
from cue_dashboard.units import PaceScale

if TYPE_CHECKING:
    from cue_practice.answer import PaceAnswer

ROW_HEIGHT_PX = 116


@dataclass(frozen=True)
class HeightAnswer:
    """What was learnt at one tip height.

    Parameters
    ----------
    label : str
        The tip height in words.
    answer : PaceAnswer
        What its shots taught.
    """

    label: str
    answer: "PaceAnswer"


def heights_figure(
    heights: Sequence[HeightAnswer], palette: Palette, scale: PaceScale
) -> go.Figure:
    """Return one row a tip height: even-chance band, best pace with its interval, chance in words.

    Parameters
    ----------
    heights : sequence of HeightAnswer
        From the lowest tip up.
    palette : Palette
        Colours of the scheme.
    scale : PaceScale
        Unit of pace.
    """
    figure = bare_figure(palette, height_px=70 + ROW_HEIGHT_PX * len(heights))
    for row, height in enumerate(heights):
        _row(figure, row, height, palette, scale)
    figure.update_xaxes(
        title=words.PACE_AXIS.format(unit=scale.unit), range=_shown_range(heights, scale)
    )
    figure.update_yaxes(visible=False, range=[-0.4, len(heights) - 0.15])
    return figure


def _shown_range(heights: Sequence[HeightAnswer], scale: PaceScale) -> tuple[float, float]:
    """Return the paces of all bands and intervals with some room beside them."""
    answers = [height.answer for height in heights]
    bands = [edge for answer in answers for edge in answer.band_m_s or ()]
    low = min(*bands, *(answer.best_pace_low_m_s for answer in answers), 10.0)
    high = max(*bands, *(answer.best_pace_high_m_s for answer in answers), 0.0)
    margin = 0.08 * (high - low) + 0.02
    return (low - margin) * scale.factor, (high + margin) * scale.factor


def _row(
    figure: go.Figure, row: int, height: HeightAnswer, palette: Palette, scale: PaceScale
) -> None:
    """Draw one tip height."""
    answer = height.answer
    if answer.band_m_s is not None:
        low_m_s, high_m_s = answer.band_m_s
        figure.add_scatter(
            x=[low_m_s * scale.factor, high_m_s * scale.factor],
            y=[row, row],
            mode="lines",
            line={"color": faded(palette.right, 0.35), "width": 22},
            hovertemplate=words.BAND_HINT.format(span=scale.span(low_m_s, high_m_s))
            + "<extra></extra>",
        )
    figure.add_scatter(
        x=[answer.best_pace_m_s * scale.factor],
        y=[row],
        error_x={
            "type": "data",
            "symmetric": False,
            "array": [(answer.best_pace_high_m_s - answer.best_pace_m_s) * scale.factor],
            "arrayminus": [(answer.best_pace_m_s - answer.best_pace_low_m_s) * scale.factor],
            "color": palette.ink,
            "thickness": 2.5,
            "width": 8,
        },
        mode="markers",
        marker={"size": 14, "color": palette.ink},
        hovertemplate=words.BEST_HINT.format(pace=scale.text(answer.best_pace_m_s))
        + "<extra></extra>",
    )
    figure.add_annotation(
        x=0,
        xref="paper",
        y=row + 0.2,
        yanchor="bottom",
        xanchor="left",
        showarrow=False,
        align="left",
        text=f"<b>{height.label}</b><br>{words.height_chance(answer)}",
        font={"size": 14, "color": palette.ink},
    )
