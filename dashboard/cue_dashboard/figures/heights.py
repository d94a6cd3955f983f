"""Tip heights of one set-up compared: where each has its best pace and how much room it gives.

A height that was played has a filled dot and a filled bar; one that was not has an open diamond and
an outlined bar, and says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cue_dashboard import words
from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.theme import Palette, faded
from cue_dashboard.units import PaceScale

if TYPE_CHECKING:
    from cue_practice.answer import PaceAnswer

ROW_HEIGHT_PX = 116
BAR_PX, OUTLINE_PX = 22, 18


@dataclass(frozen=True)
class HeightAnswer:
    """What is known of one tip height.

    Parameters
    ----------
    label : str
        The tip height in words.
    answer : PaceAnswer
        What its shots taught, or what the model and other shots say of it.
    is_known : bool
        False where neither shots nor the model know a pace that is right there.
    """

    label: str
    answer: "PaceAnswer"
    is_known: bool = True


def heights_figure(heights: Sequence[HeightAnswer], palette: Palette, scale: PaceScale) -> Drawing:
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
    figure = Drawing(palette, height_px=70 + ROW_HEIGHT_PX * len(heights))
    for row, height in enumerate(heights):
        _row(figure, row, height, palette, scale)
    figure.update_xaxes(
        title=words.PACE_AXIS.format(unit=scale.unit), range=_shown_range(heights, scale)
    )
    figure.update_yaxes(visible=False, range=[-0.4, len(heights) - 0.15])
    return figure


def _shown_range(heights: Sequence[HeightAnswer], scale: PaceScale) -> tuple[float, float]:
    """Return the paces of all bands and intervals with some room beside them."""
    answers = [height.answer for height in heights if height.is_known]
    bands = [edge for answer in answers for edge in answer.band_m_s or ()]
    ends = [*bands, *(answer.best_pace_low_m_s for answer in answers)]
    ends += [answer.best_pace_high_m_s for answer in answers]
    low, high = (min(ends), max(ends)) if ends else (1.0, 3.0)
    margin = 0.08 * (high - low) + 0.02
    return (low - margin) * scale.factor, (high + margin) * scale.factor


def _row(
    figure: Drawing, row: int, height: HeightAnswer, palette: Palette, scale: PaceScale
) -> None:
    """Draw one tip height."""
    if height.is_known:
        _bar(figure, row, height.answer, palette, scale)
        _best(figure, row, height.answer, palette, scale)
    said = words.height_told(height.answer, scale) if height.is_known else words.HEIGHT_NOWHERE
    figure.add_annotation(
        x=0,
        xref="paper",
        y=row + 0.2,
        yanchor="bottom",
        xanchor="left",
        showarrow=False,
        align="left",
        text=f"<b>{height.label}</b>, {words.height_shots(height.answer.n_shots)}<br>{said}",
        font={"size": 14, "color": palette.ink},
    )


def _bar(
    figure: Drawing, row: int, answer: "PaceAnswer", palette: Palette, scale: PaceScale
) -> None:
    """Draw the paces at which right is at least an even chance, filled where they were played."""
    if answer.band_m_s is None:
        return
    low_m_s, high_m_s = answer.band_m_s
    fill = faded(palette.right, 0.35)
    layers = [(fill, BAR_PX)] if answer.n_shots else [(fill, BAR_PX), (palette.card, OUTLINE_PX)]
    for color, width in layers:
        figure.add_scatter(
            x=[low_m_s * scale.factor, high_m_s * scale.factor],
            y=[row, row],
            mode="lines",
            line={"color": color, "width": width},
            hovertemplate=words.BAND_HINT.format(span=scale.span(low_m_s, high_m_s))
            + "<extra></extra>",
        )


def _best(
    figure: Drawing, row: int, answer: "PaceAnswer", palette: Palette, scale: PaceScale
) -> None:
    """Draw the best pace with its interval."""
    best_m_s = answer.best_pace_m_s
    figure.add_scatter(
        x=[best_m_s * scale.factor],
        y=[row],
        error_x={
            "type": "data",
            "symmetric": False,
            "array": [(answer.best_pace_high_m_s - best_m_s) * scale.factor],
            "arrayminus": [(best_m_s - answer.best_pace_low_m_s) * scale.factor],
            "color": palette.ink,
            "thickness": 2.5,
            "width": 8,
        },
        mode="markers",
        marker={
            "size": 14,
            "color": palette.ink,
            "symbol": "circle" if answer.n_shots else "diamond-open",
            "line": {"width": 2.5, "color": palette.ink},
        },
        hovertemplate=words.BEST_HINT.format(pace=scale.text(best_m_s)) + "<extra></extra>",
    )
