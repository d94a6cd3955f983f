"""One stroke in numbers and plain words."""

import math
from typing import Any

from dash import html
from scipy.special import ndtr

from cue_dashboard import words
from cue_dashboard.components.pieces import aria
from cue_dashboard.units import MM_PER_M, PaceScale, mm_text
from cue_signal.stroke import Stroke, StrokeFlag
from cue_signal.trend import hit_trend

LEVEL_M_S2 = 1.0
"""Within this an acceleration counts as level, see cue_signal.stroke."""


def chances_into_ball(stroke: Stroke) -> tuple[float, float, float]:
    """Return the chances that the cue was slowing, level and gaining over the last 20 ms.

    The three exclude one another: slowing is below -1 m/s^2, gaining above 1 m/s^2.
    """
    mean, sd = stroke.accel_at_hit_m_s2, stroke.accel_at_hit_sd_m_s2
    if not sd > 0:
        return float(mean < -LEVEL_M_S2), float(abs(mean) <= LEVEL_M_S2), float(mean > LEVEL_M_S2)
    slowing = float(ndtr((-LEVEL_M_S2 - mean) / sd))
    gaining = float(ndtr((mean - LEVEL_M_S2) / sd))
    return slowing, max(0.0, 1.0 - slowing - gaining), gaining


def into_the_ball(stroke: Stroke, scale: PaceScale) -> html.Div:
    """Return whether the cue slowed into the ball: in words, with size and chances."""
    chances = chances_into_ball(stroke)
    names = (words.SLOWING, words.LEVEL, words.GAINING)
    looks = ("slowing", "level", "gaining")
    trend = hit_trend(stroke)
    size = f"{stroke.accel_at_hit_m_s2:+.1f} \u00b1 {stroke.accel_at_hit_sd_m_s2:.1f} m/s\u00b2"
    return html.Div(
        [
            html.P(
                [
                    html.Span(f"{words.TREND_SIGN[trend]} ", **aria(hidden="true")),
                    words.sentence(words.trend(trend, scale.text(stroke.speed_lost_m_s))),
                ],
                className="trend-words",
            ),
            html.P(size, className="quiet"),
            html.Div(
                [
                    html.Span(className=f"part-{look}", style={"flex": max(chance, 0.001)})
                    for look, chance in zip(looks, chances, strict=True)
                ],
                className="parts",
                **aria(hidden="true"),
            ),
            html.Div(
                [
                    html.Span([html.Span(className=f"swatch part-{look}"), f"{name} {chance:.0%}"])
                    for look, name, chance in zip(looks, names, chances, strict=True)
                ],
                className="part-names small",
            ),
        ],
        className="stack tight",
    )


def facts(stroke: Stroke, scale: PaceScale) -> html.Dl:
    """Return the measures of a stroke; what the sensor could not tell is left out."""
    rows = [
        (words.FACT_FASTEST, scale.text(stroke.peak_speed_m_s)),
        (words.FACT_BACKSWING, _with_sd(stroke.backswing_m, stroke.backswing_sd_m)),
        (words.FACT_PAUSE, f"{stroke.rear_pause_s:.2f} s"),
        (words.FACT_DELIVERY, f"{stroke.delivery_s:.2f} s"),
        (words.FACT_TEMPO, _tempo(stroke)),
        (words.FACT_FOLLOW, mm_text(stroke.follow_through_m)),
        (words.FACT_FEATHERS, _feathers(stroke)),
        (words.FACT_LATERAL, _aside(stroke.tip_lateral_m, words.LEFT_RIGHT)),
        (words.FACT_VERTICAL, _aside(stroke.tip_vertical_m, words.UP_DOWN)),
    ]
    if stroke.stillness_m_s2 is not None:
        rows.append((words.FACT_STILL, f"{stroke.stillness_m_s2:.2f} m/s\u00b2"))
    return html.Dl(
        [html.Div([html.Dt(name), html.Dd(value)]) for name, value in rows if value is not None],
        className="facts",
    )


def flags(stroke: Stroke) -> Any:
    """Return what to mind about a stroke, in plain words."""
    found = [words.FLAG[flag] for flag in StrokeFlag if flag in stroke.flags]
    if not found:
        return html.P(words.FLAGS_NONE, className="quiet")
    return html.Ul([html.Li(one) for one in found], className="flags small")


def _with_sd(length_m: float, sd_m: float) -> str:
    """Return a length with its uncertainty."""
    return f"{MM_PER_M * length_m:.0f} \u00b1 {MM_PER_M * sd_m:.0f} mm"


def _tempo(stroke: Stroke) -> str:
    """Return how long going back took against coming through."""
    back_s = stroke.rear_s - stroke.backswing_start_s
    through_s = stroke.delivery_s
    if not (back_s > 0 and through_s > 0 and math.isfinite(back_s / through_s)):
        return words.NOTHING
    return f"{back_s / through_s:.1f} : 1"


def _feathers(stroke: Stroke) -> str:
    """Return the feathers and their rhythm."""
    if stroke.feather_period_s is None:
        return str(stroke.feathers)
    return words.FEATHER_RHYTHM.format(n=stroke.feathers, period=f"{stroke.feather_period_s:.1f}")


def _aside(length_m: float | None, ends: tuple[str, str]) -> str | None:
    """Return how far the tip was off its line; None where the sensor cannot tell."""
    if length_m is None:
        return None
    size_mm = abs(length_m) * MM_PER_M
    return f"{size_mm:.1f} mm {ends[0] if length_m > 0 else ends[1]}"
