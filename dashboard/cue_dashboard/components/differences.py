"""Two sides against each other: sentences, and the numbers behind them as a table."""

from collections.abc import Sequence
from typing import Any

from dash import html

from cue_dashboard import words
from cue_dashboard.components.pieces import aria, card
from cue_dashboard.units import MM_PER_M
from cue_dashboard.words import progress as say
from cue_practice.compare import Difference
from cue_practice.control import Measure
from cue_practice.trade_words import interval_texts, probability_words

Names = tuple[str, str]


def differences(found: Sequence[Difference], names: Names) -> html.Section:
    """Return the card of a comparison; as for :func:`told`."""
    title = html.H2(say.COMPARED.format(first=names[0], second=names[1]))
    return card(title, *told(found, names))


def told(found: Sequence[Difference], names: Names) -> list[Any]:
    """Return a comparison in sentences and as a table.

    Parameters
    ----------
    found : sequence of Difference
        From :func:`cue_practice.compare.compare_shots`.
    names : tuple of two str
        What the sides are called.
    """
    if not found:
        return [html.P(say.COMPARED_NONE, className="quiet")]
    items = [html.Li(" ".join(words.sentence(said) for said in one.words)) for one in found]
    table = html.Details([html.Summary(say.AS_TABLE), _table(found, names)], className="fold")
    return [html.Ul(items, className="flags"), html.P(say.COMPARED_HELP, className="help"), table]


def _table(found: Sequence[Difference], names: Names) -> html.Div:
    """Return the numbers, one row a quantity."""
    heads = [one.format(first=names[0], second=names[1]) for one in say.COMPARED_COLUMNS]
    rows = [
        html.Tr([html.Th(cells[0], scope="row"), *[html.Td(cell) for cell in cells[1:]]])
        for cells in (_cells(one, names) for one in found)
    ]
    table = html.Table(
        [
            html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
            html.Tbody(rows),
        ],
        className="plain-table",
    )
    return html.Div(
        table,
        className="table-wide",
        tabIndex="0",
        role="region",
        **aria(label=say.COMPARED.format(first=names[0], second=names[1])),
    )


def _cells(one: Difference, names: Names) -> tuple[str, ...]:
    """Return one row."""
    is_first = one.probability_first_better >= 0.5
    sure = max(one.probability_first_better, 1.0 - one.probability_first_better)
    n_shots, n_evenings = one.n_shots, one.n_evenings
    return (
        say.DIFFERENCE[one.quantity],
        _size(one.quantity, one.first),
        _size(one.quantity, one.second),
        say.BETTER.format(name=names[0] if is_first else names[1], chance=probability_words(sure)),
        probability_words(one.probability_matters),
        say.RESTS_ON.format(
            shots=f"{n_shots[0]} / {n_shots[1]}", evenings=f"{n_evenings[0]} / {n_evenings[1]}"
        ),
    )


def _size(quantity: str, measure: Measure) -> str:
    """Return a size with its interval in the unit of the screen."""
    factor, unit = (MM_PER_M, "mm") if quantity == "sideways" else (100.0, "%")
    digits = 0 if quantity in ("slowing", "right") else 1
    ends = (factor * measure.value, factor * measure.low, factor * measure.high)
    value, low, high = interval_texts(*ends, digits)
    span = say.SPAN_NONE if low == high else say.SPAN.format(low=low, high=high)
    return f"{value} {unit} ({span})"
