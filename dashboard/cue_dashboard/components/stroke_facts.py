"""One stroke in numbers and plain words."""

import math
from collections.abc import Callable, Sequence
from typing import Any

from dash import html
from scipy.special import ndtr

from cue_dashboard import words
from cue_dashboard.components.pieces import aria
from cue_dashboard.units import MM_PER_M, PaceScale, mm_text
from cue_dashboard.words import strokes as say
from cue_signal.stroke import Stroke, StrokeFlag
from cue_signal.trend import HitTrend, hit_trend

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


def trend_line(stroke: Stroke, scale: PaceScale) -> html.Div:
    """Return whether the cue slowed, its size, and how sure that is, in two lines of words."""
    trend = hit_trend(stroke)
    slowing, level, gaining = chances_into_ball(stroke)
    chance = {
        HitTrend.SLOWING: slowing,
        HitTrend.LEVEL: level,
        HitTrend.GAINING: gaining,
        HitTrend.UNSURE: max(slowing, gaining),
    }[trend]
    return html.Div(
        [
            html.P(
                [
                    html.Span(f"{words.TREND_SIGN[trend]} ", **aria(hidden="true")),
                    words.sentence(words.trend(trend, scale.text(stroke.speed_lost_m_s))),
                ],
                className="trend-words",
            ),
            html.P(say.DOUBT[trend].format(chance=_percent(chance)), className="quiet"),
        ],
        className=f"trend-line trend-{trend.value}",
    )


def facts(stroke: Stroke, scale: PaceScale, best: Sequence[Stroke] = ()) -> html.Dl:
    """Return the measures of a stroke, beside the mean of one's own best.

    What the sensor could not tell is left out.
    """
    rows: list[tuple[str, Callable[[Stroke], float | None], Callable[[float], str], str]] = [
        (words.FACT_FASTEST, lambda s: s.peak_speed_m_s, scale.text, ""),
        (
            words.FACT_BACKSWING,
            lambda s: s.backswing_m,
            mm_text,
            f" \u00b1 {MM_PER_M * stroke.backswing_sd_m:.0f}",
        ),
        (words.FACT_PAUSE, lambda s: s.rear_pause_s, _seconds, ""),
        (words.FACT_DELIVERY, lambda s: s.delivery_s, _seconds, ""),
        (words.FACT_TEMPO, _tempo, lambda value: f"{value:.1f} : 1", ""),
        (words.FACT_FOLLOW, lambda s: s.follow_through_m, mm_text, ""),
        (words.FACT_FEATHERS, lambda s: float(s.feathers), lambda value: f"{value:.0f}", ""),
        (words.FACT_RHYTHM, lambda s: s.feather_period_s, _seconds, ""),
        (words.FACT_LATERAL, lambda s: s.tip_lateral_m, _sideways, ""),
        (words.FACT_VERTICAL, lambda s: s.tip_vertical_m, _upwards, ""),
        (words.FACT_STILL, lambda s: s.stillness_m_s2, lambda v: f"{v:.2f} m/s\u00b2", ""),
    ]
    return html.Dl(
        [
            _fact(name, value, written, more, [measure(one) for one in best])
            for name, measure, written, more in rows
            if (value := measure(stroke)) is not None
        ],
        className="facts",
    )


def _fact(
    name: str,
    value: float,
    written: Callable[[float], str],
    more: str,
    best: Sequence[float | None],
) -> html.Div:
    """Return one measure, and the mean of the own best ones under it."""
    known = [one for one in best if one is not None]
    lines: list[Any] = [html.Dt(name), html.Dd(written(value) + more)]
    if known:
        mean = written(sum(known) / len(known))
        lines.append(html.Dd(say.BEST_FACT.format(value=mean), className="beside"))
    return html.Div(lines)


def flags(stroke: Stroke) -> Any:
    """Return what to mind about a stroke, in plain words."""
    found = [words.FLAG[flag] for flag in StrokeFlag if flag in stroke.flags]
    if not found:
        return html.P(words.FLAGS_NONE, className="quiet")
    return html.Ul([html.Li(one) for one in found], className="flags small")


def _percent(chance: float) -> str:
    """Return a chance in per cent; one that is nearly certain is not called certain."""
    return f"{min(chance, 0.99):.0%}"


def _seconds(time_s: float) -> str:
    """Return a time with its unit."""
    return f"{time_s:.2f} s"


def _tempo(stroke: Stroke) -> float | None:
    """Return how long going back took against coming through, None where one has no length."""
    back_s = stroke.rear_s - stroke.backswing_start_s
    through_s = stroke.delivery_s
    if not (back_s > 0 and through_s > 0 and math.isfinite(back_s / through_s)):
        return None
    return back_s / through_s


def _sideways(length_m: float) -> str:
    """Return how far the tip was left or right of its line."""
    return _aside(length_m, words.LEFT_RIGHT)


def _upwards(length_m: float) -> str:
    """Return how far the tip was above or below its line."""
    return _aside(length_m, words.UP_DOWN)


def _aside(length_m: float, ends: tuple[str, str]) -> str:
    """Return how far the tip was off its line."""
    size = f"{abs(length_m) * MM_PER_M:.1f}"
    if not float(size):  # what rounds to nothing lies on neither side
        return f"{size} mm"
    return f"{size} mm {ends[0] if length_m > 0 else ends[1]}"
