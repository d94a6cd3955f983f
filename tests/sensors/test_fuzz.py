"""Malformed notifications through every decoder and the assembler; a million in the benchmark."""

import pytest

from cue_bench.sensor_fuzz import fuzz
from cue_sensors.decoders import decoders

MOST_HELD_BYTES = 200_000
"""A minute of the earliest arrivals and the packets that wait, with room."""


@pytest.mark.parametrize("kind", sorted(decoders))
def test_malformed_notifications_harm_nothing_and_are_not_kept(kind):
    report = fuzz(kind, 600, seed=31)
    assert 0.2 < report.n_decoded / report.n < 0.8  # both sorts are tried
    assert report.n_samples > 200
    assert report.n_out_of_place == 0
    assert report.grown_bytes < MOST_HELD_BYTES
