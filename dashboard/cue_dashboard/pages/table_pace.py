"""At the table: the last pace, very large, and how it stands against a called one.

What is spoken and sounded is written into the card; `assets/table_sound.js` reads it there.
"""

from typing import Any

import dash
from dash import Input, Output, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import aria
from cue_dashboard.desk import desk
from cue_dashboard.ids import table as table_ids
from cue_dashboard.units import PaceScale
from cue_dashboard.words import table as table_words
from cue_practice.control import training_score
from cue_practice.views import Series
from cue_signal.stroke import Stroke
from cue_signal.trend import hit_trend

GAUGE_REACH = 0.25
"""Share of the called pace at either end of the gauge."""
GAUGE_MARKS = 10
DEFAULT_TOLERANCE = 0.05


def register(app: dash.Dash) -> None:
    """Connect the card."""
    app.callback(
        Output(ids.TABLE_PACE, "children"),
        Input(ids.TABLE_DESK, "data"),
        Input(ids.UNIT, "value"),
        Input(table_ids.TOLERANCE, "value"),
    )(show_pace)


def show_pace(state: dict[str, Any] | None, unit: str, tolerance: str | None = None) -> Any:
    """Return the newest stroke's pace, as large as the screen allows."""
    if not state or (state["series_id"] is None and not state["is_running"]):
        return no_update
    scale, log = PaceScale.of(unit), desk().log
    if state["series_id"] is None:
        status = desk().status()
        stroke = None if status is None else status.last_stroke
        return _card([] if stroke is None else [stroke], scale, state, None, DEFAULT_TOLERANCE)
    shots = log.shots(series_id=state["series_id"])
    strokes = [shot.stroke for shot in shots if shot.stroke is not None]
    series = log.series(state["series_id"])
    return _card(strokes, scale, state, series, _share(tolerance))


def _share(tolerance: str | None) -> float:
    """Return the chosen tolerance as a share of the called pace."""
    return float(tolerance) / 100 if tolerance else DEFAULT_TOLERANCE


def _card(
    strokes: list[Stroke],
    scale: PaceScale,
    state: dict[str, Any],
    series: Series | None,
    tolerance: float,
) -> html.Div:
    """Return what the card shows of strokes in the order they were played."""
    called_m_s = None if series is None else series.called_pace_m_s
    label = words.LAST_PACE if series is not None else table_words.NOT_KEPT
    parts: list[Any] = [html.P(label, className="pace-label")]
    if not strokes:
        hint = words.NO_STROKE_YET if state["is_running"] else words.NO_STROKE_IDLE
        parts += [
            html.P(words.NOTHING, className="pace-number waiting", **aria(hidden="true")),
            html.P(hint, className="pace-trend quiet"),
        ]
        return html.Div(parts)
    stroke = strokes[-1]
    parts += [_number(stroke, scale), _unit(stroke, scale)]
    spoken: dict[str, Any] = {
        "data-stroke": f"{stroke.impact_time_s:.3f}",
        "data-n": str(len(strokes)),
        "data-say": scale.number(stroke.tip_speed_m_s),
    }
    if called_m_s is not None:
        paces = [one.tip_speed_m_s for one in strokes]
        against = table_words.against(paces[-1] / called_m_s, tolerance)
        spoken["data-against"] = against
        parts += _against(paces, called_m_s, tolerance, against, scale)
    return html.Div([*parts, _trend(stroke, scale)], **spoken)


def _number(stroke: Stroke, scale: PaceScale) -> html.P:
    """Return the pace."""
    return html.P(scale.number(stroke.tip_speed_m_s), className="pace-number")


def _unit(stroke: Stroke, scale: PaceScale) -> html.P:
    """Return its unit and uncertainty."""
    sd = words.PLUS_MINUS.format(pace=scale.number(stroke.tip_speed_sd_m_s))
    return html.P([f"{scale.unit} ", html.Span(sd, className="small")], className="pace-unit")


def _trend(stroke: Stroke, scale: PaceScale) -> html.P:
    """Return whether the cue slowed into the ball."""
    trend = hit_trend(stroke)
    sign = html.Span(words.TREND_SIGN[trend], className="sign", **aria(hidden="true"))
    said = words.trend(trend, scale.text(stroke.speed_lost_m_s))
    return html.P(html.Span([sign, said]), className="pace-trend")


def _against(
    paces: list[float], called_m_s: float, tolerance: float, against: str, scale: PaceScale
) -> list[Any]:
    """Return the last pace against the called one: sign and words, the gauge, the score."""
    by = scale.text(abs(paces[-1] - called_m_s))
    said = {
        "on": table_words.ON_PACE,
        "faster": table_words.FASTER.format(by=by),
        "slower": table_words.SLOWER.format(by=by),
    }[against]
    sign = html.Span(
        table_words.AGAINST_SIGN[against], className="against-sign", **aria(hidden="true")
    )
    score = training_score(paces, called_m_s, tolerance=tolerance)
    return [
        html.P([sign, said], className=f"against against-{against}"),
        _gauge(paces, called_m_s, tolerance, scale),
        html.P(table_words.score(score, tolerance), className="score quiet"),
    ]


def _gauge(paces: list[float], called_m_s: float, tolerance: float, scale: PaceScale) -> html.Div:
    """Return the last strokes on a line about the called pace, the newest tallest."""
    half = 50 * min(tolerance / GAUGE_REACH, 1.0)
    ticks = [
        html.Span(
            className="gauge-mark last" if one is paces[-1] else "gauge-mark",
            style={"left": f"{_place(one / called_m_s):.2f}%"},
        )
        for one in paces[-GAUGE_MARKS:]
    ]
    band = html.Span(
        className="gauge-band", style={"left": f"{50 - half}%", "right": f"{50 - half}%"}
    )
    said = table_words.GAUGE.format(pace=scale.text(called_m_s))
    return html.Div(
        [band, html.Span(className="gauge-called"), *ticks],
        className="gauge",
        role="img",
        **aria(label=said),
    )


def _place(ratio: float) -> float:
    """Return where a pace stands on the gauge, in percent of its width."""
    return 50 + 50 * min(max((ratio - 1.0) / GAUGE_REACH, -1.0), 1.0)
