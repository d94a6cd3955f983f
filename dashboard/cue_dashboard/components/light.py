"""Pieces that are one component each, however much they show.

Dash looks at every component of a page whenever anything on it changes, and React draws a page
anew only once all its figures are drawn. What only shows something is one component here, and
figures are drawn one after another once the words stand. assets/light.js draws them.
"""

from collections.abc import Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from cue_dashboard.figures.drawing import Drawing

Tree = list[Any]
"""A tag, its properties, and what is in it: texts and further trees."""


class Still(Component):
    """Plain HTML that changes as a whole; `still` makes one.

    Parameters
    ----------
    tree : list
        What to show.
    id : str, optional
        For callbacks.
    pressed : dict, optional
        What the last button that was pressed stands for, under "what", and under "n" a number that
        goes up with every press.
    """

    _namespace = "cue_dashboard"
    _type = "Still"
    _prop_names = ["tree", "id", "pressed"]  # noqa: RUF012  (as Dash has it)
    _valid_wildcard_attributes: list[str] = []  # noqa: RUF012
    available_properties = _prop_names
    available_wildcard_properties = _valid_wildcard_attributes

    def __init__(self, tree: Tree, **more: Any) -> None:
        super().__init__(tree=tree, **more)  # type: ignore[no-untyped-call]


class Plot(Component):
    """A figure, drawn once the words of the page stand; `plot` makes one.

    Parameters
    ----------
    id : str
        Of its place.
    figure : Drawing
        What to draw.
    style : dict
        Of its place, which has a height.
    """

    _namespace = "cue_dashboard"
    _type = "Plot"
    _prop_names = ["id", "figure", "style"]  # noqa: RUF012
    _valid_wildcard_attributes: list[str] = []  # noqa: RUF012
    available_properties = _prop_names
    available_wildcard_properties = _valid_wildcard_attributes

    def __init__(self, id: str, figure: Drawing, style: dict[str, str]) -> None:
        super().__init__(id=id, figure=figure, style=style)  # type: ignore[no-untyped-call]


PRESS = "data-press"
"""Property of a button within a `still` piece: what it stands for."""


def still(component: Component, **more: Any) -> Still:
    """Return plain HTML as one component.

    Parameters
    ----------
    component : Component
        Of dash.html, and nothing but such in it.
    **more
        Properties of `Still`.

    Raises
    ------
    TypeError
        If something else than dash.html's components and texts is in it.
    """
    return Still(tree=_tree(component), **more)


def press_button(text: str, what: str, **more: Any) -> html.Button:
    """Return a button within a `still` piece.

    Parameters
    ----------
    text : str
        What it says.
    what : str
        What it stands for in the piece's `pressed`.
    **more
        Further properties.
    """
    stands_for: dict[str, Any] = {PRESS: what}
    return html.Button(text, type="button", className="plain", **stands_for, **more)


def text_table(
    label: str, heads: Sequence[str], rows: Sequence[Sequence[str]], *, caption: str
) -> Still:
    """Return a table of plain text that scrolls sideways where it is too wide.

    Its tree is put together here: a Dash component for each cell takes longer than all the rest of
    a page with many rows.

    Parameters
    ----------
    label : str
        What the table is called to assistive technology.
    heads : sequence of str
        One for each column.
    rows : sequence of sequences of str
        As many texts each.
    caption : str
        Above the table.
    """
    top: Tree = ["tr", {}, *[["th", {"scope": "col"}, head] for head in heads]]
    body = [["tr", {}, *[["td", {}, text] for text in row]] for row in rows]
    table: Tree = [
        "table",
        {"className": "plain-table"},
        ["caption", {}, caption],
        ["thead", {}, top],
        ["tbody", {}, *body],
    ]
    around = {"className": "table-wide", "tabIndex": 0, "role": "region", "aria-label": label}
    return Still(tree=["div", around, table])


def plot(plot_id: str, figure: Drawing) -> Plot:
    """Return a figure with a height of its own."""
    return Plot(id=plot_id, figure=figure, style={"height": f"{figure.height_px}px"})


def _tree(component: Component) -> Tree:
    """Return a component as tag, properties and content."""
    if component._namespace != html.Div._namespace:
        raise TypeError(f"{component._type} is no plain HTML: it cannot be part of a still piece")
    props = {
        name: value
        for name, value in component.to_plotly_json()["props"].items()
        if name != "children" and value is not None
    }
    return [component._type.lower(), props, *_content(getattr(component, "children", None))]


def _content(children: Any) -> list[Any]:
    """Return what is in a component."""
    if children is None:
        return []
    if isinstance(children, Component):
        return [_tree(children)]
    if isinstance(children, Sequence) and not isinstance(children, str):
        return [one for child in children for one in _content(child)]
    return [str(children)]
