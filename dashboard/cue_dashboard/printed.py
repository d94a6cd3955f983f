"""Strokes and answers as the command line shows them: a table for people, JSON for programs."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from rich import box
from rich.console import Console, JustifyMethod
from rich.table import Table

from cue_signal.stroke import BALL_SPEED_BASIS, Stroke
from cue_signal.trend import hit_trend

MM_PER_M = 1000.0
WIDE_COLUMNS = 118
"""A screen this wide shows every column."""
PIPE_WIDTH_COLUMNS = 160
"""Wide enough for every column where the output is a file or a pipe, which has no width."""


def console() -> Console:
    """Return a console that never wraps a table when its output is piped.

    Names of files and players are shown as they are: brackets in them are no markup.
    """
    width = None if Console().is_terminal else PIPE_WIDTH_COLUMNS
    return Console(highlight=False, markup=False, width=width)


def stroke_json(stroke: Stroke) -> dict[str, Any]:
    """Return one stroke as an object for JSON; None where this sensor cannot tell."""
    return {
        "impact_time_s": _rounded(stroke.impact_time_s, 5),
        "backswing_start_s": _rounded(stroke.backswing_start_s, 4),
        "rear_s": _rounded(stroke.rear_s, 4),
        "delivery_start_s": _rounded(stroke.delivery_start_s, 4),
        "follow_through_end_s": _rounded(stroke.follow_through_end_s, 4),
        "tip_speed_m_s": _rounded(stroke.tip_speed_m_s, 5),
        "tip_speed_sd_m_s": _rounded(stroke.tip_speed_sd_m_s, 5),
        "peak_speed_m_s": _rounded(stroke.peak_speed_m_s, 5),
        "peak_time_s": _rounded(stroke.peak_time_s, 4),
        "speed_lost_m_s": _rounded(stroke.speed_lost_m_s, 5),
        "accel_at_hit_m_s2": _rounded(stroke.accel_at_hit_m_s2, 4),
        "accel_at_hit_sd_m_s2": _rounded(stroke.accel_at_hit_sd_m_s2, 4),
        "slowing_probability": _rounded(stroke.slowing_probability, 5),
        "level_probability": _rounded(stroke.level_probability, 5),
        "trend": hit_trend(stroke).value,
        "backswing_m": _rounded(stroke.backswing_m, 5),
        "backswing_sd_m": _rounded(stroke.backswing_sd_m, 5),
        "rear_pause_s": _rounded(stroke.rear_pause_s, 4),
        "delivery_s": _rounded(stroke.delivery_s, 4),
        "tempo": _maybe(stroke.tempo, 3),
        "smoothness": _maybe(stroke.smoothness, 3),
        "tip_lateral_mm": _millimetres(stroke.tip_lateral_m),
        "tip_lateral_sd_mm": _millimetres(stroke.tip_lateral_sd_m),
        "tip_vertical_mm": _millimetres(stroke.tip_vertical_m),
        "tip_vertical_sd_mm": _millimetres(stroke.tip_vertical_sd_m),
        "yaw_rad": _maybe(stroke.yaw_rad, 5),
        "pitch_rad": _maybe(stroke.pitch_rad, 5),
        "twist_rad": _maybe(stroke.twist_rad, 5),
        "follow_through_m": _rounded(stroke.follow_through_m, 5),
        "stillness_m_s2": _maybe(stroke.stillness_m_s2, 4),
        "feathers": stroke.feathers,
        "feather_period_s": _maybe(stroke.feather_period_s, 4),
        "feather_period_sd_s": _maybe(stroke.feather_period_sd_s, 4),
        "ball_speed_m_s": _maybe(stroke.ball_speed_m_s, 4),
        "ball_speed_sd_m_s": _maybe(stroke.ball_speed_sd_m_s, 4),
        "ball_speed_basis": None if stroke.ball_speed_m_s is None else BALL_SPEED_BASIS,
        "flags": sorted(flag.value for flag in stroke.flags),
    }


def stroke_table(strokes: Sequence[Stroke], *, title: str, width_columns: int) -> Table:
    """Return a table with one row a stroke.

    Parameters
    ----------
    strokes : sequence of Stroke
        In the order they were played.
    title : str
        What they came from.
    width_columns : int
        Width of the screen in characters; a narrow one gets the columns that matter most.

    Returns
    -------
    rich.table.Table
        Pace in m/s with its standard uncertainty, acceleration over the last 20 ms, and the rest.
    """
    shown = COLUMNS if width_columns >= WIDE_COLUMNS else [c for c in COLUMNS if c.is_vital]
    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    for column in shown:
        table.add_column(column.heading, justify=column.justify, no_wrap=True)
    for number, stroke in enumerate(strokes, start=1):
        table.add_row(str(number), *(column.cell(stroke) for column in shown[1:]))
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


def _clock(time_s: float) -> str:
    """Return seconds as minutes and seconds."""
    sign = "-" if time_s < 0 else ""
    minutes, seconds = divmod(abs(time_s), 60.0)
    return f"{sign}{minutes:.0f}:{seconds:04.1f}"


def _rounded(value: float, digits: int) -> float:
    """Return a plain float without meaningless digits."""
    return round(float(value), digits)


def _maybe(value: float | None, digits: int) -> float | None:
    """Return a plain float without meaningless digits, None where there is none."""
    return None if value is None else _rounded(value, digits)


def _millimetres(value_m: float | None) -> float | None:
    """Return metres as millimetres to the hundredth."""
    return None if value_m is None else _rounded(value_m * MM_PER_M, 2)


@dataclass(frozen=True)
class _Column:
    """One column of the table of strokes."""

    heading: str
    cell: Callable[[Stroke], str]
    is_vital: bool = True
    justify: JustifyMethod = "right"


def _accel_cell(stroke: Stroke) -> str:
    """Return the acceleration before the hit with its standard uncertainty."""
    return f"{stroke.accel_at_hit_m_s2:+.1f} ± {stroke.accel_at_hit_sd_m_s2:.1f}"


COLUMNS = [
    _Column("#", lambda s: ""),
    _Column("at", lambda s: _clock(s.impact_time_s)),
    _Column("pace m/s", lambda s: f"{s.tip_speed_m_s:.2f} ± {s.tip_speed_sd_m_s:.2f}"),
    _Column("peak m/s", lambda s: f"{s.peak_speed_m_s:.2f}", is_vital=False),
    _Column("last 20 ms m/s²", _accel_cell),
    _Column("into ball", lambda s: hit_trend(s).value, justify="left"),
    _Column("back mm", lambda s: f"{s.backswing_m * MM_PER_M:.0f}", is_vital=False),
    _Column("pause s", lambda s: f"{s.rear_pause_s:.2f}", is_vital=False),
    _Column("delivery s", lambda s: f"{s.delivery_s:.2f}", is_vital=False),
    _Column("tip off line", lambda s: off_line_words(s.tip_lateral_m)),
    _Column("feathers", lambda s: str(s.feathers), is_vital=False),
    _Column("mind", lambda s: flag_words(s.flags), is_vital=False, justify="left"),
]
