"""What stands round every page: name, links, unit of pace, light or dark."""

import dash
import dash_mantine_components as dmc
from dash import ClientsideFunction, Input, Output, dcc, html

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import aria
from cue_dashboard.looking import only_looks
from cue_dashboard.theme import mantine_theme
from cue_dashboard.units import PaceUnit
from cue_dashboard.words import share as share_words

_WHERE = "where"
_LINKS = "links"

N_ON_PHONE = 4
"""Links that fit beside one another under a thumb; the first ones of the list."""


def layout() -> dmc.MantineProvider:
    """Return the frame of all pages."""
    return dmc.MantineProvider(
        theme=mantine_theme(),
        defaultColorScheme="auto",
        children=[
            dcc.Location(id=_WHERE, refresh="callback-nav"),
            dcc.Store(id=ids.SCHEME),
            html.A(words.SKIP_TO_CONTENT, href=f"#{ids.MAIN}", className="skip"),
            html.Header(
                className="top",
                children=[
                    dcc.Link(words.NAME, href="/", className="name"),
                    html.Nav(id=_LINKS, **aria(label=words.NAV_LABEL)),
                    html.Div(_display_switches(), className="display"),
                ],
            ),
            *_looks_note(),
            html.Main(dash.page_container, id=ids.MAIN, className="main", tabIndex="-1"),
        ],
    )


def _looks_note() -> list[html.P]:
    """Return what a device that may only look is told on every page."""
    if not only_looks():
        return []
    return [html.P(share_words.ONLY_LOOKS, id="looks-only", className="looks-only", role="note")]


def not_found() -> html.Div:
    """Return the page for an address that is none."""
    return html.Div(
        [html.H1(words.NOT_FOUND), dcc.Link(words.NOT_FOUND_REMEDY, href="/")],
        className="card empty",
    )


def links(path: str | None) -> list[html.Ul]:
    """Return the links to the pages, the current one marked: in a row, and as a phone has them.

    A phone has room for a few; the others fold out above them. The style sheet shows one of the
    two lists and hides the other, from screen readers as well.
    """
    named = zip(words.NAV, words.NAV_SHORT, strict=True)
    all_links = [(href, long, short) for (href, long), short in named]
    row = [html.Li(_link(href, long, is_here=href == path)) for href, long, _ in all_links]
    bar = [
        html.Li(_link(href, short, is_here=href == path))
        for href, _, short in all_links[:N_ON_PHONE]
    ]
    return [
        html.Ul(row, className="pages pages-row"),
        html.Ul([*bar, html.Li(_more(all_links[N_ON_PHONE:], path))], className="pages pages-bar"),
    ]


def register(app: dash.Dash) -> None:
    """Connect the frame."""
    app.callback(Output(_LINKS, "children"), Input(_WHERE, "pathname"))(links)
    app.clientside_callback(
        ClientsideFunction("stunpace", "watch_scheme"),
        Output(ids.SCHEME, "data"),
        Input(ids.MAIN, "id"),
        Input(ids.SCHEME, "id"),
    )
    app.clientside_callback(
        ClientsideFunction("stunpace", "tell_unit"),
        Output(ids.MAIN, "data-unit"),
        Input(ids.UNIT, "value"),
    )


def _link(href: str, word: str, *, is_here: bool) -> dmc.Anchor:
    """Return one link."""
    return dmc.Anchor(word, href=href, unstyled=True, **aria(current="page" if is_here else None))


def _more(others: list[tuple[str, str, str]], path: str | None) -> html.Details:
    """Return the links that a phone folds away; on another page they are folded again."""
    items = [html.Li(_link(href, long, is_here=href == path)) for href, long, _ in others]
    here = next((short for href, _, short in others if href == path), None)
    summary = html.Summary(here or words.NAV_MORE, className="here" if here else "")
    return html.Details([summary, html.Ul(items)], className="more", key=path or "")


def _display_switches() -> list[dmc.SegmentedControl | dmc.ColorSchemeToggle]:
    """Return the switches for the unit of pace and for light or dark; the browser keeps both."""
    return [
        dmc.SegmentedControl(
            id=ids.UNIT,
            data=[unit.value for unit in PaceUnit],
            value=PaceUnit.M_S.value,
            persistence=True,
            persistence_type="local",
            size="sm",
            **aria(label=words.UNIT_LABEL),
        ),
        dmc.ColorSchemeToggle(
            id="scheme-toggle",
            lightIcon=html.Span("\u2600", **aria(hidden="true")),
            darkIcon=html.Span("\u263e", **aria(hidden="true")),
            variant="subtle",
            size=44,
            **aria(label=words.SCHEME_LABEL),
        ),
    ]
