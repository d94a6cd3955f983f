"""Pace and stun: which pace gives the right result, how sure that is, and where the white goes."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import dash
from dash import Input, Output, ctx, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.light import plot, still
from cue_dashboard.components.pieces import (
    aria,
    card,
    empty,
    figure_box,
    marked_grade,
    segments,
    select,
)
from cue_dashboard.desk import desk
from cue_dashboard.figures.pace import PacedResult, pace_figure
from cue_dashboard.pages import pace_heights
from cue_dashboard.pages.pace_heights import height_label, heights_card
from cue_dashboard.pages.pace_plan import plan_card
from cue_dashboard.questions import MOST_DRAWN, Held, graded
from cue_dashboard.shown import scale_shown, scheme_shown
from cue_dashboard.theme import palette_of
from cue_dashboard.units import PaceScale
from cue_practice.grades import Grade
from cue_practice.limits import is_a_pace

if TYPE_CHECKING:
    from cue_practice.paces import FitShots

PATH = "/pace"
TITLE = words.PACE_TITLE


def layout(**_: Any) -> html.Div:
    """Return the page, opened at what was played last."""
    log = desk().log
    names = {one.player_id: one.nickname for one in log.players()}
    played = graded(log)
    options = [
        {"value": str(player_id), "label": names[player_id]}
        for player_id in dict.fromkeys(held.player_id for held in played)
    ]
    player = options[0]["value"] if options else None
    setups, setup = offer_setups(player, None)
    heights, height = offer_heights(player, setup, "")
    answer = show_answer(height, scale_shown().unit, scheme_shown(), player, setup)
    return html.Div(
        [
            html.H1(words.PACE_TITLE),
            html.Div(
                [
                    html.Div(
                        [
                            select(words.PLAYER, ids.PACE_PLAYER, data=options, value=player),
                            select(words.SETUP, ids.PACE_SETUP, data=setups, value=setup),
                        ],
                        className="field-row",
                    ),
                    segments(
                        words.TIP_HEIGHT_LABEL,
                        ids.PACE_HEIGHT,
                        heights,
                        value=height,
                        fullWidth=True,
                    ),
                ],
                className="card stack",
                hidden=not options,
            ),
            html.Div(answer, id=ids.PACE_ANSWER, className="stack below"),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect the choice and the answer."""
    # one answer for all: a choice that waited for another would be a way to the server more
    app.callback(
        Output(ids.PACE_SETUP, "data"),
        Output(ids.PACE_SETUP, "value"),
        Output(ids.PACE_HEIGHT, "data"),
        Output(ids.PACE_HEIGHT, "value"),
        Output(ids.PACE_ANSWER, "children"),
        Input(ids.PACE_PLAYER, "value"),
        Input(ids.PACE_SETUP, "value"),
        Input(ids.PACE_HEIGHT, "value"),
        Input(ids.UNIT, "value"),
        Input(ids.SCHEME, "data"),
        prevent_initial_call=True,
    )(choose)
    pace_heights.register(app)


def choose(
    player: str | None, setup: str | None, height: str, unit: str, scheme: str | None
) -> tuple[Any, ...]:
    """Return what can be chosen, and the answer."""
    touched = ctx.triggered_id
    if touched not in (ids.PACE_PLAYER, ids.PACE_SETUP):
        return (*(no_update,) * 4, show_answer(height, unit, scheme, player, setup))
    setups: tuple[Any, Any] = (no_update, no_update)
    if touched == ids.PACE_PLAYER:
        setups = offer_setups(player, setup)
        setup = setups[1]
    heights = offer_heights(player, setup, height)
    return (*setups, *heights, show_answer(heights[1], unit, scheme, player, setup))


def offer_setups(player: str | None, chosen: str | None) -> tuple[Any, Any]:
    """Return the set-ups a player has graded shots of, the one played last first."""
    log = desk().log
    played = dict.fromkeys(held.setup_id for held in graded(log) if str(held.player_id) == player)
    offered = [{"value": str(one), "label": log.setup(one).name} for one in played]
    values = [one["value"] for one in offered]
    return offered, chosen if chosen in values else next(iter(values), None)


def offer_heights(player: str | None, setup: str | None, chosen: str) -> tuple[Any, Any]:
    """Return the tip heights a player has graded shots at, the lowest first."""
    played = _heights(player, setup)
    offered = [{"value": _key(held), "label": _height_label(held)} for held in played]
    newest = next((held for held in graded(desk().log) if held in played), None)
    values = [one["value"] for one in offered]
    return offered, chosen if chosen in values else (_key(newest) if newest else "")


def show_answer(
    height: str, unit: str, scheme: str | None, player: str | None, setup: str | None
) -> Any:
    """Return the answer in words and pictures."""
    played = _heights(player, setup)
    held = next((one for one in played if _key(one) == height), None)
    if held is None:
        return empty(words.PACE_EMPTY, words.PACE_EMPTY_REMEDY)
    log = desk().log
    shots, found = held.paces(log), log.kept(held, lambda: held.answer(log))
    palette, scale = palette_of(scheme), PaceScale.of(unit)
    drawn = [] if len(shots.shot_id) <= MOST_DRAWN else [_newest_drawn()]
    return [
        still(_words_card(found, scale)),
        card(
            figure_box(
                words.RESULTS_TITLE,
                words.RESULTS_HELP,
                still(_legend()),
                plot(ids.PACE_RESULTS, pace_figure(_results(shots), found, palette, scale)),
                *drawn,
            )
        ),
        html.Div(
            [
                plan_card(held, found),
                heights_card(held),
            ],
            className="columns halves",
        ),
    ]


def _newest_drawn() -> html.P:
    """Return that only the newest shots are drawn: more marks would hide one another."""
    return html.P(words.RESULTS_NEWEST.format(n=MOST_DRAWN), className="quiet small")


def _words_card(found: Any, scale: PaceScale) -> Any:
    """Return the best pace, large, and what is known of it in words."""
    said = found.in_words(scale)
    band = words.NO_BAND if found.band_m_s is None else scale.span(*found.band_m_s)
    spread = f"\u00b1 {scale.text(found.own_spread_m_s)}"
    if not found.own_spread.n_shots:
        spread = words.USUAL_SPREAD.format(spread=spread)
    rows = [
        (words.BAND, band),
        (words.OWN_SPREAD, spread),
        (words.CHANCE_OWN, f"{found.chance_at_own_spread:.0%}"),
        (words.TRY_NEXT_TITLE, scale.text(found.next_pace_m_s)),
        (words.N_SHOTS, str(found.n_shots)),
    ]
    return html.Section(
        [
            html.Div(
                [
                    html.P(words.BEST_PACE, className="quiet"),
                    html.P(
                        [
                            scale.number(found.best_pace_m_s),
                            html.Span(f" {scale.unit}", className="pace-unit"),
                        ],
                        className="answer-number",
                    ),
                    html.P(
                        words.BEST_SPAN.format(
                            low=scale.number(found.best_pace_low_m_s),
                            high=scale.text(found.best_pace_high_m_s),
                        ),
                        className="quiet",
                    ),
                ]
            ),
            html.Div(
                [
                    html.Dl(
                        [html.Div([html.Dt(name), html.Dd(value)]) for name, value in rows],
                        className="facts",
                    ),
                    *_remarks(found.remarks(scale)),
                    html.Details(
                        [
                            html.Summary(words.IN_SENTENCES),
                            *[html.P(sentence, className="help") for sentence in said],
                        ],
                        className="fold",
                    ),
                ],
                className="stack",
            ),
        ],
        className="card answer",
    )


def _remarks(said: Sequence[str]) -> list[html.Ul]:
    """Return doubts and shots left out, open to see; nothing where there are none."""
    if not said:
        return []
    return [html.Ul([html.Li(one) for one in said], className="flags")]


def _legend() -> html.Div:
    """Return what the marks mean."""
    return html.Div(
        [marked_grade(grade) for grade in Grade], className="legend", **aria(label=words.LEGEND)
    )


def _results(shots: "FitShots") -> list[PacedResult]:
    """Return the newest graded shots as the figure needs them."""
    columns = (shots.shot_id.tolist(), shots.pace_m_s.tolist(), shots.pace_sd_m_s.tolist())
    told = zip(*columns, shots.grades, shots.is_potted, strict=True)
    return [PacedResult(*one) for one in told if is_a_pace(one[1])][-MOST_DRAWN:]


def _heights(player: str | None, setup: str | None) -> dict[Held, int]:
    """Return what was held on a set-up with the number of graded shots, the lowest tip first."""
    found = graded(desk().log)
    ours = [held for held in found if (str(held.player_id), str(held.setup_id)) == (player, setup)]
    ours.sort(key=lambda held: (-held.tip_below_centre_m, held.side_m))
    return {held: found[held] for held in ours}


def _height_label(held: Held) -> str:
    """Return a tip height, with side where there is any."""
    return height_label(held.tip_below_centre_m, held.side_m)


def _key(held: Held) -> str:
    """Return a tip height and side as the choice's value."""
    return f"{held.tip_below_centre_m:.4f}|{held.side_m:.4f}"
