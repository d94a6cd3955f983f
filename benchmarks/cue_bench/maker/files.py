"""Made sessions as files: the recording as a sensor's bytes, and the truth on the file's axis."""

from pathlib import Path

import numpy as np

from cue_bench.maker.session import MadeSession
from cue_bench.maker.truth import SessionTruth
from cue_sensors.recording import RecordingWriter, read_recording
from cue_sensors.samples import Samples


def write_session(made: MadeSession, path: Path) -> SessionTruth:
    """Write a recording and its truth beside it, ``NAME.truth.json``.

    Parameters
    ----------
    made : MadeSession
        The session.
    path : Path
        File to create, with the suffix ``.mcap``.

    Returns
    -------
    SessionTruth
        The truth on the time axis that a reader of this file gets.
    """
    recording = made.recording
    with RecordingWriter(
        path,
        sensor=recording.sensor,
        mounting=recording.mounting,
        calibration=recording.calibration,
        labels=recording.labels,
        start_utc=recording.start_utc,
    ) as writer:
        for arrival_utc_ns, notification in made.notifications:
            writer.write(notification, arrival_utc_ns)
    truth = truth_on(made, read_recording(path).samples)
    truth.write(path.with_suffix(".truth.json"))
    return truth


def truth_on(made: MadeSession, samples: Samples) -> SessionTruth:
    """Return the truth on the time axis of samples that a reader made of the notifications.

    Parameters
    ----------
    made : MadeSession
        The session.
    samples : Samples
        All samples that arrived, in order, on any axis.

    Returns
    -------
    SessionTruth
        The truth on that axis.

    Raises
    ------
    ValueError
        If the number of samples is not that which arrived.
    """
    own, other = made.recording.samples.time_s, samples.time_s
    if len(own) != len(other):
        raise ValueError(f"{len(other)} samples were read where {len(own)} arrived")

    def clock(time_s: float) -> float:
        within = float(np.clip(time_s, own[0], own[-1]))
        return float(np.interp(within, own, other)) + time_s - within

    return made.truth.on_axis(clock)
