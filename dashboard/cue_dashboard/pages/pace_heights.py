"""Pace and stun: whether another tip height would be easier, played or not."""

from typing import TYPE_CHECKING, Any

import dash
from dash import Input, Output, State, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import card, figure_box, graph
from cue_dashboard.desk import desk
from cue_dashboard.figures.heights import HeightAnswer, heights_figure
from cue_dashboard.questions import Held
from cue_dashboard.theme import palette_of
from cue_dashboard.units import MM_PER_M, PaceScale, short_tips

if TYPE_CHECKING:
    from cue_practice.heights import HeightChance


def heights_card(held: Held) -> html.Section:
    """Return the card, empty until the heights are compared: that takes longer than the rest."""
    asked = [held.player_id, held.setup_id, held.tip_below_centre_m, held.side_m]
    return card(
        dcc.Store(id=ids.PACE_HEIGHTS_OF, data=asked),
        html.Div(
            [html.H2(words.HEIGHTS_TITLE), html.P(words.HEIGHTS_WAIT, className="quiet")],
            id=ids.PACE_HEIGHTS_FOUND,
            className="stack",
        ),
    )


def register(app: dash.Dash) -> None:
    """Connect the comparison with the height that is shown."""
    app.callback(
        Output(ids.PACE_HEIGHTS_FOUND, "children"),
        Input(ids.PACE_HEIGHTS_OF, "data"),
        State(ids.UNIT, "value"),
        State(ids.SCHEME, "data"),
    )(show_heights)


def show_heights(asked: list[Any] | None, unit: str, scheme: str | None) -> Any:
    """Return the verdict in a sentence, the figure, and every height in sentences."""
    if asked is None or scheme is None:
        return no_update
    from cue_practice.heights import compare_heights  # heavy

    player_id, setup_id, height_m, side_m = asked
    log = desk().log
    found = log.kept(
        ("heights", *asked),
        lambda: compare_heights(log, setup_id, player_id, height_m, side_m=side_m),
    )
    rows = sorted((found.asked, *found.others), key=lambda one: -one.tip_below_centre_m)
    scale = PaceScale.of(unit)
    figure = heights_figure([_row(one, side_m) for one in rows], palette_of(scheme), scale)
    sentences = html.Details(
        [
            html.Summary(words.IN_SENTENCES),
            *[html.P(said, className="help") for said in found.in_words(scale)],
        ],
        className="fold",
    )
    verdict = html.P(html.Strong(found.summary), role="status")
    picture = graph(ids.PACE_HEIGHTS, figure)
    return [figure_box(words.HEIGHTS_TITLE, words.HEIGHTS_HELP, verdict, picture), sentences]


def _row(one: "HeightChance", side_m: float) -> HeightAnswer:
    """Return a height as the figure needs it."""
    label = height_label(one.tip_below_centre_m, side_m)
    return HeightAnswer(label, one.answer, is_known=one.probability_easier is not None)


def height_label(height_m: float, side_m: float) -> str:
    """Return a tip height, with side where there is any."""
    label = f"{abs(height_m) * MM_PER_M:.1f} mm ({short_tips(height_m)})"
    if height_m < 0:
        label = f"{label} {words.ABOVE}"
    return label if not side_m else f"{label}, {words.side(side_m * MM_PER_M)}"
