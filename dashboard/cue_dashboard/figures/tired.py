"""What a stretch of practice changes: the pace, and how far it scatters, each with its interval."""

from dataclasses import dataclass

from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.theme import Palette
from cue_dashboard.words import progress as say
from cue_practice.control import Measure
from cue_practice.tiredness import Tiredness

HEIGHT_PX = 250
SPACING = 0.3
_ROOM = 0.15
_LEAST_REACH = 1.0


@dataclass(frozen=True)
class HourChange:
    """A change in that time, in per cent of what it is at first.

    Parameters
    ----------
    label : str
        Of what.
    percent : Measure
        With its 90 % interval.
    """

    label: str
    percent: Measure


def hour_changes(found: Tiredness) -> tuple[HourChange, ...]:
    """Return what changes, nothing where no evening tells."""
    if found.pace_change is None or found.spread_factor is None:
        return ()
    return (
        HourChange(say.TIRED_PACE, _percent(found.pace_change, 0.0)),
        HourChange(say.TIRED_SPREAD, _percent(found.spread_factor, 1.0)),
    )


def tired_figure(changes: tuple[HourChange, ...], span: str, palette: Palette) -> Drawing:
    """Return one row a change, each on its own scale, with a line where nothing changes.

    Parameters
    ----------
    changes : tuple of HourChange
        At least one.
    span : str
        How long they take, in words.
    palette : Palette
        Colours of the scheme.
    """
    rows = [1.0] * len(changes)
    figure = Drawing(palette, height_px=HEIGHT_PX, rows=rows, spacing=SPACING)
    for row, change in enumerate(changes, start=1):
        _draw(figure, row, change, palette)
    figure.update_yaxes(visible=False, range=[-0.7, 1.4])
    figure.update_xaxes(title=say.TIRED_AXIS.format(span=span), row=len(changes))
    return figure


def _draw(figure: Drawing, row: int, change: HourChange, palette: Palette) -> None:
    """Draw one change."""
    one = change.percent
    figure.add_scatter(
        x=[one.value],
        y=[0.0],
        error_x={
            "type": "data",
            "symmetric": False,
            "array": [one.high - one.value],
            "arrayminus": [one.value - one.low],
            "color": palette.ink,
            "thickness": 2.5,
            "width": 8,
        },
        mode="markers",
        marker={"size": 13, "color": palette.ink},
        hovertemplate=f"{_text(change)}<extra></extra>",
        row=row,
    )
    reach = max(abs(one.low), abs(one.high), _LEAST_REACH) * (1.0 + _ROOM)
    figure.update_xaxes(range=[-reach, reach], row=row)
    dotted = {"color": palette.quiet, "width": 2, "dash": "dot"}
    figure.add_span(0.0, 0.0, line=dotted, row=row)
    figure.add_annotation(
        x=-reach,
        y=1.3,
        xanchor="left",
        yanchor="top",
        showarrow=False,
        text=_text(change),
        bgcolor=palette.card,  # no line goes through the words
        font={"size": 14, "color": palette.ink},
        row=row,
    )


def _text(change: HourChange) -> str:
    """Return a change in words."""
    one = change.percent
    return say.TIRED_ROW.format(what=change.label, value=one.value, low=one.low, high=one.high)


def _percent(measure: Measure, nothing: float) -> Measure:
    """Return a measure as per cent beyond the value that means no change."""
    return Measure(*(100.0 * (one - nothing) for one in (measure.value, measure.low, measure.high)))
