"""The command that reads rests or a roll from a recording: calibration and mounting."""

import json
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

if TYPE_CHECKING:
    from cue_sensors.samples import Recording
    from cue_signal.calibrate import CalibrationResult
    from cue_signal.roll import MountingResult

KINDS: Final = ("six-rests", "tumble", "roll")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--as",
    "kind",
    type=click.Choice(KINDS),
    required=True,
    help="What was recorded: rests on six sides, rests in many attitudes, or a roll of the cue.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option(
    "--latitude",
    "latitude_deg",
    type=click.FloatRange(-90, 90),
    help="Where you are, in degrees: gravity, and every speed by it, depends on it.",
)
@click.option(
    "--temperature",
    "temperature_c",
    type=click.FloatRange(-40, 85),
    help="Of the sensor, in degrees Celsius; kept with the calibration.",
)
def calibrate(
    file: Path,
    kind: str,
    as_json: bool,
    latitude_deg: float | None,
    temperature_c: float | None,
) -> None:
    """Work out a sensor's calibration, or how it sits on the cue, from the recording FILE.

    For a calibration take the sensor off the cue and lay it down, for two seconds each, on its
    six sides or in a dozen attitudes. For the mounting lay the cue on the cloth with the sensor
    clear of it, roll it a whole turn under a flat hand, and hold it tip up for a second.
    """
    from cue_sensors.load import load_recording
    from cue_signal.errors import SignalError

    recording = load_recording(file)
    try:
        if kind == "roll":
            content, words = _mounting(recording)
        else:
            content, words = _calibration(recording, kind, latitude_deg, temperature_c)
    except SignalError as error:
        raise SignalError(f"{file}: {error}") from error
    for problem in recording.problems:
        click.echo(f"note: {problem}", err=True)
    if as_json:
        click.echo(json.dumps(content, indent=1, allow_nan=False, default=_utc_text))
        return
    for line in (*words, *_lines(content)):
        click.echo(line)


def _calibration(
    recording: "Recording", kind: str, latitude_deg: float | None, temperature_c: float | None
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return a calibration as JSON keys, and its words."""
    from cue_signal.calibrate import local_gravity, six_rests
    from cue_signal.tumble import tumble

    measure = six_rests if kind == "six-rests" else tumble
    found: CalibrationResult = measure(
        recording.samples,
        gravity=local_gravity(latitude_deg),
        applied=recording.calibration,
        measured_utc=recording.start_utc or datetime.now(UTC),
        temperature_c=temperature_c,
    )
    content = {
        "calibration": asdict(found.calibration),
        "accel_bias_sd_m_s2": found.accel_bias_sd_m_s2,
        "accel_matrix_sd": found.accel_matrix_sd,
        "gyro_bias_sd_rad_s": found.gyro_bias_sd_rad_s,
        "residual_m_s2": found.residual_m_s2,
        "gravity_m_s2": found.gravity.gravity_m_s2,
        "gravity_sd_m_s2": found.gravity.sd_m_s2,
        "n_attitudes": found.n_attitudes,
        "missing": found.missing,
        "told": found.told,
        "words": found.words,
    }
    return content, found.words


def _mounting(recording: "Recording") -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return a mounting as JSON keys, and its words."""
    from cue_signal.roll import roll

    found: MountingResult = roll(
        recording.samples,
        mounting=recording.mounting,
        is_calibrated=recording.calibration is not None,
    )
    content = {
        "mounting": asdict(found.mounting),
        "source": found.source,
        "turned_rad": found.turned_rad,
        "gyro_scale": found.gyro_scale,
        "gyro_scale_sd": found.gyro_scale_sd,
        "words": found.words,
    }
    return content, found.words


def _lines(content: dict[str, Any]) -> list[str]:
    """Return the numbers to be kept, one line each."""
    kept = content.get("calibration") or content["mounting"]
    shown = {key: value for key, value in kept.items() if value is not None}
    return ["", *(f"  {key}: {_text(value)}" for key, value in shown.items())]


def _text(value: object) -> str:
    """Return a value for reading."""
    if isinstance(value, tuple):
        return ", ".join(f"{part:.5f}" for part in value)
    return f"{value:.5f}" if isinstance(value, float) else str(value)


def _utc_text(value: object) -> str:
    """Return a time as ISO 8601, for json.dumps."""
    if not isinstance(value, datetime):
        raise TypeError(f"{type(value).__name__} has no JSON form")
    return value.isoformat()
