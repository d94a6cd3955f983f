"""Strokes and answers as the command line shows them: a table for people, JSON for programs."""

from collections.abc import Iterable, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table

from cue_signal.stroke import Stroke
from cue_signal.trend import hit_trend

MM_PER_M = 1000.0
PIPE_WIDTH_COLUMNS = 130
"""Wide enough for every column where the output is a file or a pipe, which has no width."""


def console() -> Console:
    """Return a console that never wraps a table when its output is piped."""
    shown = Console(highlight=False)
    return shown if shown.is_terminal else Console(highlight=False, width=PIPE_WIDTH_COLUMNS)


def stroke_json(stroke: Stroke) -> dict[str, Any]:
    """Return one stroke as an object for JSON; None where this sensor cannot tell."""
    return {
        "impact_time_s": _rounded(stroke.impact_time_s, 5),
        "tip_speed_m_s": _rounded(stroke.tip_speed_m_s, 5),
        "tip_speed_sd_m_s": _rounded(stroke.tip_speed_sd_m_s, 5),
        "peak_speed_m_s": _rounded(stroke.peak_speed_m_s, 5),
        "accel_at_hit_m_s2": _rounded(stroke.accel_at_hit_m_s2, 4),
        "slowing_probability": _rounded(stroke.slowing_probability, 5),
        "backswing_m": _rounded(stroke.backswing_m, 5),
        "rear_pause_s": _rounded(stroke.rear_pause_s, 4),
        "delivery_s": _rounded(stroke.delivery_s, 4),
        "tip_lateral_mm": _millimetres(stroke.tip_lateral_m),
        "tip_lateral_sd_mm": _millimetres(stroke.tip_lateral_sd_m),
        "tip_vertical_mm": _millimetres(stroke.tip_vertical_m),
        "follow_through_m": _rounded(stroke.follow_through_m, 5),
        "feathers": stroke.feathers,
        "flags": sorted(flag.value for flag in stroke.flags),
    }


def stroke_table(strokes: Sequence[Stroke], *, title: str) -> Table:
    """Return a table with one row a stroke.

    Parameters
    ----------
    strokes : sequence of Stroke
        In the order they were played.
    title : str
        What they came from.

    Returns
    -------
    rich.table.Table
        Pace in m/s with its standard uncertainty, acceleration over the last 20 ms, and the rest.
    """
    table = Table(title=title, title_justify="left")
    for heading in ("#", "at", "pace m/s", "peak m/s", "last 20 ms m/s²"):
        table.add_column(heading, justify="right")
    table.add_column("into the ball")
    for heading in ("back mm", "pause s", "delivery s", "tip off line", "feathers"):
        table.add_column(heading, justify="right")
    table.add_column("mind")
    for number, stroke in enumerate(strokes, start=1):
        table.add_row(*_cells(number, stroke))
    return table


def off_line_words(lateral_m: float | None) -> str:
    """Return the tip's sideways place at the hit in the player's words."""
    if lateral_m is None:
        return "-"
    lateral_mm = lateral_m * MM_PER_M
    if abs(lateral_mm) < 1 / 2:
        return "0 mm"
    return f"{abs(lateral_mm):.0f} mm {'left' if lateral_mm > 0 else 'right'}"


def flag_words(flags: Iterable[str]) -> str:
    """Return what to mind about a stroke; the usual clipping at the hit is not worth a word."""
    return ", ".join(sorted(str(f).replace("_", " ") for f in flags if f != "clipped_hit"))


def _cells(number: int, stroke: Stroke) -> tuple[str, ...]:
    """Return the cells of one row."""
    return (
        str(number),
        _clock(stroke.impact_time_s),
        f"{stroke.tip_speed_m_s:.2f} ± {stroke.tip_speed_sd_m_s:.2f}",
        f"{stroke.peak_speed_m_s:.2f}",
        f"{stroke.accel_at_hit_m_s2:+.1f} ± {stroke.accel_at_hit_sd_m_s2:.1f}",
        hit_trend(stroke).value,
        f"{stroke.backswing_m * MM_PER_M:.0f}",
        f"{stroke.rear_pause_s:.2f}",
        f"{stroke.delivery_s:.2f}",
        off_line_words(stroke.tip_lateral_m),
        str(stroke.feathers),
        flag_words(stroke.flags),
    )


def _clock(time_s: float) -> str:
    """Return seconds as minutes and seconds."""
    sign = "-" if time_s < 0 else ""
    minutes, seconds = divmod(abs(time_s), 60.0)
    return f"{sign}{minutes:.0f}:{seconds:04.1f}"


def _rounded(value: float, digits: int) -> float:
    """Return a plain float without meaningless digits."""
    return round(float(value), digits)


def _millimetres(value_m: float | None) -> float | None:
    """Return metres as millimetres to the hundredth."""
    return None if value_m is None else _rounded(value_m * MM_PER_M, 2)
