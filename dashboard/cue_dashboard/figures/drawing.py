"""A figure as plotly.js takes it, put together without checking every property.

Plotly's own figures check and copy whatever is given to them: more work than all that a page works
out. Here a figure is what is sent to the browser, and nothing else. Tests read :attr:`Drawing.data`
and :attr:`Drawing.layout`, which plotly checks.
"""

import base64
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from cue_dashboard.theme import Palette, template_json

if TYPE_CHECKING:
    import plotly.graph_objects as go

Json = dict[str, Any]


class Drawing:
    """Scatter traces in one plot, or in several below each other.

    Parameters
    ----------
    palette : Palette
        Colours of the scheme.
    height_px : int or None
        None for as high as its place.
    rows : sequence of float
        Share of the height of each plot, from the top.
    spacing : float
        Share of the height between two of them.
    """

    def __init__(
        self,
        palette: Palette,
        *,
        height_px: int | None = None,
        rows: Sequence[float] = (1.0,),
        spacing: float = 0.0,
    ) -> None:
        self.height_px = height_px
        self._n_rows = len(rows)
        self._traces: list[Json] = []
        self._layout: Json = {"template": template_json(palette)}
        if height_px is not None:
            self._layout["height"] = height_px
        if len(rows) > 1:
            self._stack(rows, spacing)

    @property
    def data(self) -> Any:
        """Return the traces as plotly's own objects, checked by it."""
        return self._checked().data

    @property
    def layout(self) -> Any:
        """Return the layout as plotly's own object, checked by it."""
        return self._checked().layout

    def to_plotly_json(self) -> Json:
        """Return what is sent to the browser."""
        return {"data": [_packed(trace) for trace in self._traces], "layout": self._layout}

    def add_scatter(self, *, row: int = 1, **trace: Any) -> None:
        """Add a trace to the plot in a row."""
        axes = {} if row == 1 else {"xaxis": f"x{row}", "yaxis": f"y{row}"}
        self._traces.append({"type": "scatter", **trace, **axes})

    def update_layout(self, **more: Any) -> None:
        """Set properties of the layout."""
        self._layout |= more

    def update_xaxes(self, *, row: int | None = None, **axis: Any) -> None:
        """Set properties of the x axis in a row, of all of them for None."""
        self._set_axes("xaxis", row, axis)

    def update_yaxes(self, *, row: int | None = None, **axis: Any) -> None:
        """Set properties of the y axis in a row, of all of them for None."""
        self._set_axes("yaxis", row, axis)

    def add_annotation(self, *, row: int | None = None, **words: Any) -> None:
        """Add words to the plot in a row, to the whole figure for None."""
        refs = {} if row is None else {"xref": f"x{_nth(row)}", "yref": f"y{_nth(row)}"}
        self._layout.setdefault("annotations", []).append({**refs, **words})

    def add_span(self, x0: Any, x1: Any, *, row: int | None = None, **shape: Any) -> None:
        """Add a line, or where the ends differ an area, from top to bottom of one or all rows."""
        kind = "line" if x0 == x1 else "rect"
        for one in self._rows(row):
            refs = {"xref": f"x{_nth(one)}", "yref": f"y{_nth(one)} domain"}
            ends = {"x0": x0, "x1": x1, "y0": 0, "y1": 1}
            self._layout.setdefault("shapes", []).append({"type": kind, **refs, **ends, **shape})

    def _rows(self, row: int | None) -> Iterator[int]:
        """Yield one row, or all."""
        yield from range(1, self._n_rows + 1) if row is None else (row,)

    def _set_axes(self, name: str, row: int | None, axis: Json) -> None:
        """Set properties of axes; a title's words alone are not enough for plotly.js."""
        if isinstance(axis.get("title"), str):
            axis["title"] = {"text": axis["title"]}
        for one in self._rows(row):
            self._layout.setdefault(f"{name}{_nth(one)}", {}).update(axis)

    def _stack(self, rows: Sequence[float], spacing: float) -> None:
        """Put plots below each other."""
        room = (1.0 - spacing * (len(rows) - 1)) / sum(rows)
        top = 1.0
        for row, share in enumerate(rows, start=1):
            bottom = max(top - share * room, 0.0)
            self.update_xaxes(row=row, anchor=f"y{_nth(row)}", domain=[0.0, 1.0])
            self.update_yaxes(row=row, anchor=f"x{_nth(row)}", domain=[bottom, top])
            top = bottom - spacing

    def _checked(self) -> "go.Figure":
        """Return plotly's own figure, which checks every property."""
        import plotly.graph_objects as go  # only for those who look at a figure

        return go.Figure({"data": self._traces, "layout": self._layout})


def _nth(row: int) -> str:
    """Return how plotly numbers the axes of a row: the first has no number."""
    return "" if row == 1 else str(row)


def _packed(trace: Json) -> Json:
    """Return a trace with its arrays of numbers packed, as plotly.js reads them quickest."""
    return {name: _pack(one) if isinstance(one, np.ndarray) else one for name, one in trace.items()}


def _pack(values: np.ndarray) -> Json:
    """Return an array as plotly.js takes it: its bytes in base64."""
    whole = np.ascontiguousarray(values, dtype="<f8")
    return {"dtype": "f8", "bdata": base64.b64encode(whole.tobytes()).decode("ascii")}
