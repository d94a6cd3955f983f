"""Results against pace for one set-up and tip height, with what was learnt from them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cue_dashboard import words
from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.theme import GRADE_SYMBOL, Palette, faded
from cue_dashboard.units import PaceScale
from cue_practice.grades import Grade

if TYPE_CHECKING:
    from cue_practice.answer import PaceAnswer

HEIGHT_PX = 580
LANES = (Grade.TOO_LITTLE, Grade.RIGHT, Grade.TOO_MUCH)
"""From the bottom up: a harder hit carries more stun, so the marks climb to the right."""
LANE_SCATTER = 0.22
"""Marks of one lane are spread up and down so that equal paces stay countable."""
SHOWN_CHANCE = 0.03
"""Paces where nothing but one result is left are cut off at the sides."""


@dataclass(frozen=True)
class PacedResult:
    """One graded shot as the figure needs it.

    Parameters
    ----------
    shot_id : int
        Number in the log.
    pace_m_s, pace_sd_m_s : float
        Measured pace and its standard uncertainty.
    grade : Grade
        What it did.
    is_potted : bool or None
        None where nobody tapped it.
    """

    shot_id: int
    pace_m_s: float
    pace_sd_m_s: float
    grade: Grade
    is_potted: bool | None = None


def pace_figure(
    results: Sequence[PacedResult],
    answer: "PaceAnswer",
    palette: Palette,
    scale: PaceScale,
) -> Drawing:
    """Return results in three lanes above the fitted chances, on one pace axis.

    Parameters
    ----------
    results : sequence of PacedResult
        Graded shots.
    answer : PaceAnswer
        What they taught.
    palette : Palette
        Colours of the scheme.
    scale : PaceScale
        Unit of pace.
    """
    figure = Drawing(palette, height_px=HEIGHT_PX, rows=(0.42, 0.58), spacing=0.05)
    figure.update_layout(margin={"t": 30})
    figure.update_xaxes(row=1, matches="x2", showticklabels=False)
    for lane, grade in enumerate(LANES):
        _lane(figure, [r for r in results if r.grade is grade], grade, lane, palette, scale)
    _chances(figure, answer, palette, scale)
    _own_spread(figure, answer, palette, scale)
    _shade_answer(figure, answer, palette, scale)
    figure.update_yaxes(
        row=1,
        range=[-0.55, 2.55],
        tickvals=[0, 1, 2],
        ticktext=[words.GRADE_SHORT[grade] for grade in LANES],
        showgrid=False,
        tickfont={"color": palette.ink},
    )
    figure.update_yaxes(row=2, range=[-0.02, 1.02], tickformat=".0%", nticks=5, title=words.CHANCE)
    figure.update_xaxes(range=_shown_range(results, answer, scale))
    figure.update_xaxes(row=2, title=words.PACE_AXIS.format(unit=scale.unit))
    return figure


def _shade_answer(
    figure: Drawing, answer: "PaceAnswer", palette: Palette, scale: PaceScale
) -> None:
    """Shade the even-chance band and draw the best pace through both parts."""
    if answer.band_m_s is not None:
        low_m_s, high_m_s = answer.band_m_s
        figure.add_span(
            low_m_s * scale.factor,
            high_m_s * scale.factor,
            fillcolor=faded(palette.right, 0.13),
            line={"width": 0},
            layer="below",
        )
    best = answer.best_pace_m_s * scale.factor
    figure.add_span(
        best,
        best,
        line={"color": palette.ink, "width": 1.5},
        layer="below",
    )
    figure.add_annotation(
        x=best,
        y=1,
        xref="x",
        yref="paper",
        yanchor="bottom",
        showarrow=False,
        text=words.BEST_MARK.format(pace=scale.number(answer.best_pace_m_s)),
        font={"size": 14, "color": palette.ink},
    )


def _lane(
    figure: Drawing,
    results: Sequence[PacedResult],
    grade: Grade,
    lane: int,
    palette: Palette,
    scale: PaceScale,
) -> None:
    """Draw one result's shots: filled where the ball went in, open where it was missed."""
    colour = palette.grade(grade)
    # same shot, same height, whatever is drawn beside it
    lift = [LANE_SCATTER * (((r.shot_id * 7) % 11) / 5.0 - 1.0) for r in results]
    figure.add_scatter(
        row=1,
        x=[r.pace_m_s * scale.factor for r in results],
        y=[lane + up for up in lift],
        error_x={
            "type": "data",
            "array": [r.pace_sd_m_s * scale.factor for r in results],
            "color": faded(colour, 0.45),
            "thickness": 1.5,
            "width": 0,
        },
        mode="markers",
        marker={
            "symbol": GRADE_SYMBOL[grade],
            "size": 14,
            "color": [palette.card if r.is_potted is False else colour for r in results],
            "line": {"color": colour, "width": 2},
        },
        name=words.GRADE_NAME[grade],
        customdata=[r.shot_id for r in results],
        text=[words.shot_hint(scale.text(r.pace_m_s), r.is_potted) for r in results],
        hovertemplate="%{text}<extra></extra>",
    )


def _chances(figure: Drawing, answer: "PaceAnswer", palette: Palette, scale: PaceScale) -> None:
    """Draw the chance of each result, and how sure the chance of the right one is."""
    pace = np.asarray(answer.pace_m_s) * scale.factor
    figure.add_scatter(
        row=2,
        x=np.concatenate([pace, pace[::-1]]),
        y=np.concatenate([answer.p_right_high, np.asarray(answer.p_right_low)[::-1]]),
        fill="toself",
        fillcolor=faded(palette.right, 0.22),
        line={"width": 0},
        hoverinfo="skip",
    )
    lines = (
        (Grade.TOO_LITTLE, answer.p_too_little, "dot", 2.5),
        (Grade.TOO_MUCH, answer.p_too_much, "dash", 2.5),
        (Grade.RIGHT, answer.p_right, "solid", 4),
    )
    for grade, chance, dash, width in lines:
        figure.add_scatter(
            row=2,
            x=pace,
            y=chance,
            mode="lines",
            line={"color": palette.grade(grade), "width": width, "dash": dash},
            name=words.GRADE_NAME[grade],
            hovertemplate=f"{words.GRADE_NAME[grade]} %{{y:.0%}}<extra></extra>",
        )


def _own_spread(figure: Drawing, answer: "PaceAnswer", palette: Palette, scale: PaceScale) -> None:
    """Draw how far the player's own pace strays, as a bar about the best pace."""
    best, spread = answer.best_pace_m_s * scale.factor, answer.own_spread_m_s * scale.factor
    figure.add_scatter(
        row=2,
        x=[best - spread, best, best + spread],
        y=[0.04, 0.04, 0.04],
        mode="lines+markers",
        line={"color": palette.ink, "width": 3},
        marker={
            "symbol": ["line-ns", "circle", "line-ns"],
            "size": [12, 9, 12],
            "line": {"width": 3},
        },
        hovertemplate=words.OWN_SPREAD_HINT.format(spread=scale.text(answer.own_spread_m_s))
        + "<extra></extra>",
    )


def _shown_range(
    results: Sequence[PacedResult], answer: "PaceAnswer", scale: PaceScale
) -> tuple[float, float]:
    """Return the paces worth showing: every shot, and where more than one result can happen."""
    pace = np.asarray(answer.pace_m_s)
    most_likely = np.maximum(answer.p_too_little, answer.p_too_much)
    is_open = most_likely < 1.0 - SHOWN_CHANCE
    shown = [*pace[is_open], *(r.pace_m_s for r in results), answer.best_pace_m_s]
    low, high = min(shown), max(shown)
    margin = 0.04 * (high - low) + 0.02
    return (low - margin) * scale.factor, (high + margin) * scale.factor
