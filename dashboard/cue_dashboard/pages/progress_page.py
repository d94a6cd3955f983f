"""Progress: pace control, straightness and slowing over the evenings; two sides beside each other.

Every number comes with its interval, every difference with its probability.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import dash
from dash import Input, Output, ctx, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.differences import differences
from cue_dashboard.components.light import Still, plot, text_table
from cue_dashboard.components.pieces import (
    aria,
    card,
    empty,
    figure_box,
    select,
)
from cue_dashboard.desk import desk
from cue_dashboard.figures.evenings import SIDE_SIGNS, Course, evenings_figure
from cue_dashboard.figures.tired import hour_changes, tired_figure
from cue_dashboard.ids import progress as own
from cue_dashboard.shown import scheme_shown
from cue_dashboard.sides import (
    ALWAYS,
    NOBODY,
    YEAR,
    Side,
    choices,
    day_text,
    newest_player,
    sides_of,
    since_of,
    split_of,
)
from cue_dashboard.theme import Palette, palette_of
from cue_dashboard.units import MM_PER_M
from cue_dashboard.words import progress as say
from cue_practice.compare import compare_shots
from cue_practice.control import Measure, pace_control
from cue_practice.errors import PracticeError
from cue_practice.log import PracticeLog
from cue_practice.progress import Evening, evenings, trends
from cue_practice.tiredness import Tiredness, span_words, tiredness
from cue_practice.trade_words import interval_texts

PATH = "/progress"
TITLE = say.TITLE
FACTOR = {"pace_spread": 100.0, "sideways_m": MM_PER_M, "slowing": 100.0, "right": 100.0}
"""From a share or metres to what the screen shows."""
DIGITS = {"pace_spread": 1, "sideways_m": 1, "slowing": 0, "right": 0}


def layout(player: str | None = None, **_: Any) -> html.Div:
    """Return the page, opened at a player where the address names one."""
    log = desk().log
    options = [{"value": str(p.player_id), "label": p.nickname} for p in log.players()]
    known = [one["value"] for one in options]
    chosen = player if player in known else newest_player(log) or next(iter(known), None)
    kinds = [{"value": kind, "label": label} for kind, label in say.BESIDE_KIND.items()]
    overs = [{"value": over, "label": label} for over, label in say.OVER_WHAT.items()]
    shown = show(None, chosen, NOBODY, scheme_shown(), YEAR)
    return html.Div(
        [
            html.H1(say.TITLE),
            html.Div(
                [
                    select(words.PLAYER, own.PLAYER, data=options, value=chosen),
                    select(say.BESIDE, own.BESIDE, data=kinds, value=NOBODY),
                    html.Div(
                        select(words.PLAYER, own.WHICH, data=[], value=None, searchable=True),
                        id=own.WHICH_BOX,
                        hidden=True,
                    ),
                    select(say.OVER, own.OVER, data=overs, value=YEAR),
                ],
                className="card field-row progress-fields",
                hidden=not options,
            ),
            html.Div(shown, id=own.FOUND, className="stack below"),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect the choice and what it shows."""
    # one answer for both: a choice that waited for another would be a way to the server more
    app.callback(
        Output(own.WHICH, "data"),
        Output(own.WHICH, "value"),
        Output(own.WHICH, "label"),
        Output(own.WHICH, "error"),
        Output(own.WHICH_BOX, "hidden"),
        Output(own.FOUND, "children"),
        Input(own.PLAYER, "value"),
        Input(own.BESIDE, "value"),
        Input(own.WHICH, "value"),
        Input(ids.SCHEME, "data"),
        Input(own.OVER, "value"),
        prevent_initial_call=True,
    )(choose)


def choose(
    player: str | None, kind: str | None, which: str | None, scheme: str | None, over: str | None
) -> tuple[Any, ...]:
    """Return what can be set beside the player, and the evenings."""
    kind, over = kind or NOBODY, over or YEAR
    if ctx.triggered_id in (own.WHICH, ids.SCHEME):
        return (*(no_update,) * 5, show(which, player, kind, scheme, over))
    offered = offer(player, kind, which, over)
    return (*offered, show(offered[1], player, kind, scheme, over))


def offer(player: str | None, kind: str, chosen: str | None, over: str = ALWAYS) -> tuple[Any, ...]:
    """Return what can be set beside the player."""
    found = [] if player is None else choices(desk().log, int(player), kind, over)
    values = [one.value for one in found]
    return (
        [{"value": one.value, "label": one.label} for one in found],
        chosen if chosen in values else next(iter(values), None),
        say.WHICH[kind] or say.WHICH["player"],
        None if found or kind == NOBODY else say.WHICH_NONE[kind],
        kind == NOBODY,
    )


def show(
    which: str | None, player: str | None, kind: str, scheme: str | None, over: str = ALWAYS
) -> Any:
    """Return the evenings of one side or two."""
    if player is None:
        return empty(say.EMPTY, say.EMPTY_REMEDY)
    log = desk().log
    # the log may be long, and coaches look at the same pages again and again between two shots
    key = ("progress", which, player, kind, scheme, over)
    return log.kept(key, lambda: _content(log, which, int(player), kind, scheme, over))


def _content(
    log: PracticeLog,
    which: str | None,
    player_id: int,
    kind: str,
    scheme: str | None,
    over: str,
) -> Any:
    """Return the cards of a player, or of two sides."""
    try:
        sides = sides_of(log, player_id, kind, which, over)
    except (PracticeError, KeyError, StopIteration):
        return empty(say.EMPTY, say.EMPTY_REMEDY)
    if not any(len(side.shots) for side in sides):
        return empty(say.EMPTY, say.EMPTY_REMEDY)
    found = [evenings(side.shots, say.QUANTITY) for side in sides]
    going = trends(sides[0].shots, say.QUANTITY) if len(sides) == 1 else {}
    palette, split = palette_of(scheme), split_of(kind, which)
    cards = [
        card(*_quantity(name, sides, found, palette, split, going.get(name)))
        for name in say.QUANTITY
    ]
    if len(sides) == 2:
        first, second = sides
        compared = compare_shots(first.shots, second.shots, (first.name, second.name))
        return [
            differences(compared, (first.name, second.name)),
            html.Div(cards, className="columns halves"),
        ]
    control = pace_control(log.called_columns(player_id, since_utc=since_of(log, over)))
    in_words = card(html.H2(say.CONTROL_TITLE), _sentences(control.words))
    tired = _tired(tiredness(sides[0].shots), palette)
    return [html.Div([*cards, in_words, tired], className="columns halves")]


def _tired(found: Tiredness, palette: Palette) -> html.Section:
    """Return the card of what a long evening does: in words, and drawn where it can be told."""
    changes, said = hour_changes(found), _sentences(found.words)
    if not changes:
        return card(html.H2(say.TIRED_TITLE), said)
    picture = plot(f"{own.GRAPH}-tired", tired_figure(changes, span_words(found.hours), palette))
    return card(figure_box(say.TIRED_TITLE, say.TIRED_HELP, said, picture))


def _sentences(said: Sequence[str]) -> html.Ul:
    """Return sentences below each other."""
    return html.Ul([html.Li(one) for one in said], className="flags")


def _quantity(
    name: str,
    sides: Sequence[Side],
    found: Sequence[Sequence[Evening]],
    palette: Palette,
    split: Any,
    going: Any,
) -> list[Any]:
    """Return one quantity: figure, where it is going, and the same as a table."""
    points = [_points(name, told) for told in found]
    if not any(points):
        return [html.H2(say.QUANTITY[name]), html.P(say.NOTHING_YET[name], className="quiet")]
    named = [*zip([side.name for side in sides], points, strict=True)]
    courses = [_course(name, side, told) for side, told in named]
    figure = evenings_figure(courses, palette, axis=say.AXIS[name], split=split)
    content: list[Any] = [plot(f"{own.GRAPH}-{name}", figure)]
    if len(sides) == 2:
        content.insert(0, legend([side.name for side in sides]))
    else:
        content.append(html.P(going.words if going else say.FEW_EVENINGS))
    table = html.Details(
        [html.Summary(say.AS_TABLE), *[_table(name, side, told) for side, told in named]],
        className="fold",
    )
    return [figure_box(say.QUANTITY[name], say.HELP[name], *content), table]


def legend(names: Sequence[str]) -> html.P:
    """Return which mark belongs to which side."""
    return html.P(
        [
            html.Span([html.Span(f"{sign} ", **aria(hidden="true")), name])
            for sign, name in zip(SIDE_SIGNS, names, strict=True)
        ],
        className="legend",
    )


@dataclass(frozen=True)
class _Point:
    """One quantity of one evening as the figure and the table show it.

    Parameters
    ----------
    evening : Evening
        The evening.
    shown : Measure
        The quantity in the unit of the screen.
    day, value, span : str
        When, how much, and between what; with decimals enough for the ends to differ.
    """

    evening: Evening
    shown: Measure
    day: str
    value: str
    span: str


def _points(name: str, told: Sequence[Evening]) -> list[_Point]:
    """Return one quantity of the evenings that tell it."""
    factor, digits = FACTOR[name], DIGITS[name]
    points = []
    for evening in told:
        measure: Measure | None = getattr(evening, name)
        if measure is None:
            continue
        shown = Measure(factor * measure.value, factor * measure.low, factor * measure.high)
        value, low, high = interval_texts(shown.value, shown.low, shown.high, digits)
        span = say.SPAN_NONE if low == high else say.SPAN.format(low=low, high=high)
        points.append(_Point(evening, shown, day_text(evening.started_utc), value, span))
    return points


def _course(name: str, side: str, points: Sequence[_Point]) -> Course:
    """Return one quantity of one side as the figure needs it."""
    return Course(
        name=side,
        when=tuple(one.evening.started_utc.astimezone() for one in points),
        measures=tuple(one.shown for one in points),
        hints=tuple(_hint(name, side, one) for one in points),
    )


def _hint(name: str, side: str, point: _Point) -> str:
    """Return what is said of an evening that is pointed at."""
    words_of = say.POINT if point.shown.high > 0.0 else say.POINT_TOO_SMALL
    return words_of.format(
        name=side, when=point.day, unit=say.UNIT[name], value=point.value, span=point.span
    )


def _table(name: str, side: str, points: Sequence[_Point]) -> Still:
    """Return one side's evenings as a table, the newest on top."""
    rows = []
    for one in reversed(points):
        is_told = one.shown.high > 0.0
        value = f"{one.value} {say.UNIT[name]}" if is_told else say.TOO_SMALL
        rows.append((one.day, value, one.span if is_told else "", str(one.evening.n_shots)))
    return text_table(f"{say.QUANTITY[name]}, {side}", say.COLUMNS, rows, caption=side)
