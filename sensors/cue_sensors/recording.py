"""Recordings on disk: written as they grow, read back whatever became of them."""

from cue_sensors.read import RawRecording, read_notifications, read_recording
from cue_sensors.writer import RecordingWriter

__all__ = ["RawRecording", "RecordingWriter", "read_notifications", "read_recording"]
