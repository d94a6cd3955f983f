"""Set-ups: the ways of playing a shot side by side, and the map of tip height against pace."""

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids as shared
from cue_dashboard.components.pieces import aria, button, card, figure_box, graph
from cue_dashboard.drafts import HARDEST_M_S, AreaWish, judged, played
from cue_dashboard.figures.plan import plan_figure, window
from cue_dashboard.ids import setups as ids
from cue_dashboard.pages.setups_keep import playing_on
from cue_dashboard.pages.setups_say import spread_words
from cue_dashboard.playing import Playing
from cue_dashboard.theme import Palette, palette_of, template
from cue_dashboard.units import MM_PER_M, PaceScale, tip_height_text
from cue_dashboard.words import setups as words
from cue_table.choose import ChanceMap, WayResult, chance_map, compare_ways
from cue_table.conditions import Conditions
from cue_table.errors import TableError
from cue_table.fan import Intent
from cue_table.pictures import Ink, map_figure
from cue_table.setup import SetUp

PACES_M_S = (0.5, HARDEST_M_S)
LEAST_CHANCE = 0.01
Wished = Callable[..., tuple[SetUp, AreaWish] | None]


def ways_card() -> html.Section:
    """Return the card in which the ways are compared."""
    return card(
        dcc.Store(id=ids.WAYS_OF),
        html.H2(words.WAYS_TITLE),
        html.P(words.WAYS_HELP, className="help"),
        button(words.WAYS_COMPARE, ids.COMPARE, kind="choice"),
        html.P(words.WAYS_BUSY, id=ids.WAYS_BUSY, hidden=True, role="status"),
        html.Div(id=ids.WAYS, className="stack", **aria(live="polite")),
        kind="below",
    )


def register(app: dash.Dash, on_page: Sequence[State], wished: Wished) -> None:
    """Connect the comparison, and the buttons that put a way on the plan."""
    app.callback(
        Output(ids.WAYS_OF, "data"),
        Input(ids.COMPARE, "n_clicks"),
        *on_page,
        State(ids.PLAYED_BY, "value"),
        prevent_initial_call=True,
    )(lambda _clicks, *page: list(page))

    def compare_kept(held: list[Any] | None, scheme: str | None, unit: str) -> Any:
        """Compare what was on the page when the button was pressed."""
        if held is None:
            return no_update
        *page, player = held
        who = playing_on(page[1], player)
        return compare(wished(*page), who, palette_of(scheme), PaceScale.of(unit))

    app.callback(
        Output(ids.WAYS, "children"),
        Input(ids.WAYS_OF, "data"),
        Input(shared.SCHEME, "data"),
        Input(shared.UNIT, "value"),
        running=[
            (Output(ids.COMPARE, "disabled"), True, False),
            (Output(ids.WAYS_BUSY, "hidden"), False, True),
        ],
        prevent_initial_call=True,
    )(compare_kept)
    app.callback(
        Output(ids.PACE, "value"),
        Output(ids.TIP, "value"),
        Output(ids.SIDE, "value"),
        Input({"part": ids.TRY, "pace": ALL, "tip": ALL, "side": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(try_way)


def compare(
    found: tuple[SetUp, AreaWish] | None, who: Playing, palette: Palette, scale: PaceScale
) -> Any:
    """Return the ways compared, with pictures and the map, or what is wrong with the set-up."""
    if found is None:
        return no_update
    whole = judged(*found, tip_speed_m_s=1.0, below_centre_m=0.0, side_m=0.0)
    if whole.faults:
        return html.Ul([html.Li(one) for one in whole.faults], className="setups-faults")
    try:
        results, chances = _ways_of(whole.setup, who)
    except TableError as fault:
        return html.P(str(fault), className="fault")
    if not any(is_played(one) for one in results):
        return html.P(words.WAYS_NONE)
    return [
        html.P([words.WAYS_STALE, " ", spread_words(who)], className="quiet small"),
        ways_table(results, scale),
        _pictures(whole.setup, who.conditions, results, palette),
        figure_box(words.MAP_TITLE, words.MAP_HELP, graph(ids.MAP, _map(chances, palette))),
    ]


@lru_cache(maxsize=8)
def _ways_of(setup: SetUp, who: Playing) -> tuple[tuple[WayResult, ...], ChanceMap]:
    """Return the ways of a set-up and its map; kept, as only colours and units change."""
    spread, conditions = who.spread, who.conditions
    return (
        compare_ways(setup, spread=spread, tip_speed_m_s=PACES_M_S, conditions=conditions),
        chance_map(setup, spread, tip_speed_m_s=PACES_M_S, conditions=conditions),
    )


def is_played(result: WayResult) -> bool:
    """Return whether anybody would play a shot that way: once in a hundred is no way."""
    return result.best is not None and result.chance >= LEAST_CHANCE


def try_way(_clicks: list[int | None]) -> tuple[Any, Any, Any]:
    """Put the stroke of a way on the plan."""
    if not any(one.get("value") for one in ctx.triggered):
        return no_update, no_update, no_update
    which = ctx.triggered_id
    return float(which["pace"]), float(which["tip"]), float(which["side"])


def ways_table(results: Sequence[WayResult], scale: PaceScale) -> html.Table:
    """Return one row a way, the likeliest first.

    Parameters
    ----------
    results : sequence of WayResult
        As `cue_table.choose.compare_ways` gives them.
    scale : PaceScale
        Unit of pace.
    """
    head = [html.Th(one, scope="col") if one else html.Td() for one in words.WAY_HEAD]
    rows = [_way_row(one, scale) for one in results]
    return html.Table([html.Thead(html.Tr(head)), html.Tbody(rows)], className="setups-ways")


def _way_row(result: WayResult, scale: PaceScale) -> html.Tr:
    """Return the row of one way."""
    name = html.Td(words.WAY_NAME[result.way.name], className="way-name")
    best, pace_room, tip_room = result.best, result.pace_room_m_s, result.height_room_m
    if best is None or pace_room is None or tip_room is None or not is_played(result):
        return html.Tr([name, html.Td(words.WAY_NOT, className="quiet", colSpan=4)])
    tip = [html.Div(tip_height_text(best.below_centre_m))]
    if best.side_m:
        side = words.WAY_SIDE_LEFT if best.side_m > 0 else words.WAY_SIDE_RIGHT
        tip.append(html.Div(side.format(mm=abs(best.side_m) * MM_PER_M)))
    tip_span = f"{tip_room[0] * MM_PER_M:.1f} to {tip_room[1] * MM_PER_M:.1f} mm"
    return html.Tr(
        [
            name,
            html.Td(f"{result.chance:.0%}", className="way-chance"),
            html.Td([scale.text(best.tip_speed_m_s), _room(scale.span(*pace_room))]),
            html.Td([*tip, _room(tip_span)]),
            html.Td(
                button(
                    words.WAY_TRY,
                    {"part": ids.TRY, **_stroke(best)},
                    **aria(label=words.WAY_TRY_WHICH.format(name=words.WAY_NAME[result.way.name])),
                )
            ),
        ]
    )


def _room(text: str) -> html.Span:
    """Return how far something may stray, as second-rank text."""
    return html.Span(words.WAY_ROOM.format(room=text), className="small")


def _stroke(best: Intent) -> dict[str, str]:
    """Return a stroke as the id of a button holds it: pace in m/s, the others in mm."""
    return {
        "pace": f"{best.tip_speed_m_s:.2f}",
        "tip": f"{best.below_centre_m * MM_PER_M:.1f}",
        "side": f"{best.side_m * MM_PER_M:.1f}",
    }


def _pictures(
    setup: SetUp, conditions: Conditions, results: Sequence[WayResult], palette: Palette
) -> html.Ul:
    """Return a small plan of each way that can be played."""
    items = []
    for number, result in enumerate(results):
        if result.best is None or not is_played(result):
            continue
        best, name = result.best, words.WAY_NAME[result.way.name]
        run = played(setup, best, conditions)
        shown = window(setup, run)
        figure = plan_figure(setup, palette, run=run, shown=shown, is_small=True)
        picture = graph(f"{ids.WAY_PICTURE}-{number}", figure, aspect=shown.aspect)
        label = words.WAY_PICTURE.format(name=name)
        items.append(
            html.Li(
                html.Figure(
                    [
                        html.Div(picture, role="img", **aria(label=label)),
                        html.Figcaption(f"{name}, {result.chance:.0%}"),
                    ]
                )
            )
        )
    return html.Ul(items, className="way-pictures")


def _map(chances: ChanceMap, palette: Palette) -> Any:
    """Return the map in the look of a scheme."""
    ink = Ink(paper=palette.card, line=palette.ink, quiet=palette.quiet, path=palette.ink)
    figure = map_figure(chances, ink=ink)
    figure.update_layout(template=template(palette), height=380, margin={"t": 8, "r": 8})
    return figure
