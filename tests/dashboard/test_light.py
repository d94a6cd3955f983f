"""Pieces that are one component each: all that was in them is sent, and nothing else goes in."""

import json

import pytest
from dash import dcc, html
from dash._utils import to_json

from cue_dashboard.components.light import plot, press_button, still, text_table
from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.ids import log_shot as log_ids
from cue_dashboard.theme import LIGHT


def test_a_still_piece_holds_tags_properties_and_content_in_order():
    nested = html.Div(
        [
            "a",
            None,
            html.P(["b ", html.Strong("c"), 4]),
            [html.Span(className="mark", hidden=True)],
        ],
        role="status",
    )
    sent = json.loads(to_json(still(nested, id="here")))
    assert (sent["type"], sent["namespace"]) == ("Still", "cue_dashboard")
    assert sent["props"]["tree"] == [
        "div",
        {"role": "status"},
        "a",
        ["p", {}, "b ", ["strong", {}, "c"], "4"],
        ["span", {"className": "mark", "hidden": True}],
    ]


def test_what_lives_cannot_be_part_of_a_still_piece():
    with pytest.raises(TypeError, match="Store is no plain HTML"):
        still(html.Div(dcc.Store(id="kept")))


def test_a_button_of_a_still_piece_says_what_it_stands_for():
    tree = still(press_button("Edit", "17")).tree
    assert tree == [
        "button", {"data-press": "17", "type": "button", "className": "plain"}, "Edit",
    ]  # fmt: skip


def test_a_plot_sends_its_figure_and_keeps_its_height():
    drawing = Drawing(LIGHT, height_px=250)
    drawing.add_scatter(x=[1.0], y=[2.0])
    sent = json.loads(to_json(plot("figure", drawing)))["props"]
    assert sent["style"] == {"height": "250px"}
    assert sent["figure"]["data"] == [{"type": "scatter", "x": [1.0], "y": [2.0]}]


def test_the_pressed_shot_is_opened_and_pressing_it_again_opens_it_again(wire, played):
    for n in (1, 2):
        pressed = {"what": str(played[1].shot_id), "n": n}
        answer = wire.fire("log-edited.data", (log_ids.ROWS, pressed))
        assert answer["log-edited"]["data"] == {"shot": played[1].shot_id, "n": n}


def test_a_table_of_texts_is_one_component_with_every_cell_in_it():
    sent = json.loads(
        to_json(text_table("Pace, Wren", ["Evening", "Shots"], [["4 Mar", "9"]], caption="Wren"))
    )
    assert sent["props"]["tree"] == [
        "div",
        {"className": "table-wide", "tabIndex": 0, "role": "region", "aria-label": "Pace, Wren"},
        [
            "table",
            {"className": "plain-table"},
            ["caption", {}, "Wren"],
            [
                "thead",
                {},
                ["tr", {}, ["th", {"scope": "col"}, "Evening"], ["th", {"scope": "col"}, "Shots"]],
            ],
            ["tbody", {}, ["tr", {}, ["td", {}, "4 Mar"], ["td", {}, "9"]]],
        ],
    ]
