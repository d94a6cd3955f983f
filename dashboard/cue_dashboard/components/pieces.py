"""Small pieces of pages: buttons, fields, figures with their help, marks of results."""

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
import plotly.graph_objects as go
from dash import dcc, html

from cue_dashboard import words
from cue_dashboard.figures.drawing import Drawing
from cue_practice.grades import Grade

Id = str | dict[str, Any]

GRAPH_CONFIG: Any = {"displayModeBar": False, "displaylogo": False, "showTips": False}
FIELD_SIZE = "lg"


def aria(**states: str | bool | None) -> dict[str, Any]:
    """Return what is said to assistive technology, without what is None."""
    return {f"aria-{name}": value for name, value in states.items() if value is not None}


def button(text: Any, button_id: Id, *, kind: str = "plain", **more: Any) -> html.Button:
    """Return a button; kinds are plain, plain strong and choice."""
    return html.Button(text, id=button_id, type="button", className=kind, **more)


def select(label: str, select_id: str, **more: Any) -> dmc.Select:
    """Return a labelled choice, large enough for a thumb; its list is made when it is opened."""
    return dmc.Select(
        id=select_id,
        label=label,
        size=FIELD_SIZE,
        allowDeselect=False,
        comboboxProps={"shadow": "md", "keepMounted": False},
        **more,
    )


def number(label: str, number_id: str, **more: Any) -> dmc.NumberInput:
    """Return a labelled number field."""
    return dmc.NumberInput(id=number_id, label=label, size=FIELD_SIZE, **more)


def text_field(label: str, text_id: str, **more: Any) -> dmc.TextInput:
    """Return a labelled text field."""
    return dmc.TextInput(id=text_id, label=label, size=FIELD_SIZE, **more)


def segments(
    label: str, segments_id: str, data: Sequence[Any], **more: Any
) -> dmc.SegmentedControl:
    """Return a choice of few with all of them in sight."""
    return dmc.SegmentedControl(
        id=segments_id,
        data=list(data),
        size=more.pop("size", FIELD_SIZE),
        **aria(label=label),
        **more,
    )


def pager(label: str, pager_id: str, *, total: int = 1, value: int = 1) -> html.Nav:
    """Return the pages of a long list; its arrows would have no name, so the numbers do alone."""
    pages = dmc.Pagination(
        id=pager_id,
        total=total,
        value=value,
        siblings=1,
        boundaries=1,
        size="lg",
        withControls=False,
        hideWithOnePage=True,
    )
    return html.Nav(pages, **aria(label=label))


def graph(
    graph_id: str,
    figure: go.Figure | Drawing | None = None,
    *,
    height_px: int | None = None,
    aspect: float | None = None,
) -> dcc.Graph:
    """Return a graph as wide as its place, with its figure's height, a given one or an aspect."""
    height = height_px or _height_px(figure)
    return dcc.Graph(
        id=graph_id,
        figure=go.Figure() if figure is None else figure,
        config=GRAPH_CONFIG,
        responsive=True,
        style={"height": f"{height}px"} if aspect is None else plan_style(aspect),
    )


def _height_px(figure: go.Figure | Drawing | None) -> int | None:
    """Return the height of a figure's own, None where it has none."""
    if isinstance(figure, Drawing):
        return figure.height_px
    return None if figure is None else figure.layout.height


def plan_style(aspect: float) -> dict[str, Any]:
    """Return the style of a picture that keeps its shape and always fits on the screen."""
    return {"aspectRatio": f"{aspect:.4f}", "width": "100%", "maxHeight": "80vh"}


def figure_box(title: str, help_text: str, *content: Any) -> html.Figure:
    """Return a titled figure with its one sentence of help."""
    return html.Figure(
        [html.H2(title), *content, html.Figcaption(help_text, className="help")],
        className="figure",
        style={"margin": 0},
    )


def card(*content: Any, kind: str = "", **more: Any) -> html.Section:
    """Return a card; what is in it stands one below the other."""
    return html.Section(list(content), className=f"card stack {kind}".strip(), **more)


def empty(title: str, remedy: Any) -> html.Div:
    """Return what a page says when there is nothing to show."""
    return html.Div(
        [html.H2(title), html.P(remedy, className="quiet")], className="card empty", role="status"
    )


def mark(grade: Grade | None) -> html.Span:
    """Return the mark of a result; the word beside it is the caller's."""
    name = "none" if grade is None else grade.value.replace("_", "-")
    return html.Span(className=f"mark mark-{name}", **aria(hidden="true"))


def marked_grade(grade: Grade | None) -> html.Span:
    """Return a result as mark and word."""
    word = words.UNGRADED if grade is None else words.GRADE_NAME[grade]
    return html.Span([mark(grade), html.Span(word)], className="grade-cell row")
