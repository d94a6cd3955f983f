from datetime import UTC, datetime, timedelta

import pytest

from cue_practice.errors import PracticeError
from cue_practice.log import PracticeLog
from cue_sensors.samples import Calibration, Mounting

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
CALIBRATION = Calibration(
    accel_bias_m_s2=(0.1, -0.2, 0.05),
    gyro_bias_rad_s=(0.01, 0.0, -0.02),
    accel_matrix=(1.01, 0.001, 0.0, 0.0, 0.99, 0.0, 0.0, 0.002, 1.0),
    measured_utc=NOON,
    temperature_c=21.5,
)
MOUNTING = Mounting(
    cue_axis=(0.6, 0.8, 0.0), cue_axis_sd_rad=0.004, sensor_from_butt_m=0.3, cue_length_m=1.45
)


def test_a_calibration_comes_back_as_it_was_measured(bench, log_url):
    entry = bench.log.save_calibration("csv", "Sensor ä", CALIBRATION, method="six rests")
    assert (entry.made_utc, entry.temperature_c, entry.method) == (NOON, 21.5, "six rests")
    bench.log.close()
    with PracticeLog(log_url) as again:
        assert again.calibration_for("csv", "Sensor ä") == entry
        assert entry.calibration == CALIBRATION


def test_the_newest_calibration_counts_and_the_older_stay(log):
    new = log.save_calibration("a", "one", CALIBRATION, made_utc=NOON + timedelta(days=1))
    old = log.save_calibration("a", "one", Calibration(), made_utc=NOON)
    other = log.save_calibration("a", "two", Calibration(), made_utc=NOON - timedelta(days=1))
    assert log.calibration_for("a", "one") == new
    assert log.calibration_for("b", "one") is None
    assert log.calibrations() == [new, old, other]


def test_a_calibration_that_went_wrong_is_left_out_until_undo(log):
    old = log.save_calibration("a", "one", Calibration(), made_utc=NOON)
    new = log.save_calibration("a", "one", CALIBRATION, made_utc=NOON + timedelta(days=1))
    log.discard_calibration(new.calibration_id)
    assert log.calibration_for("a", "one") == old
    assert len(log.calibrations(include_discarded=True)) == 2
    assert log.undo().entry == "calibration"
    assert log.calibration_for("a", "one") == new


def test_a_mounting_belongs_to_a_sensor_on_a_cue(bench):
    cue_id = bench.series.cue_id
    entry = bench.log.save_mounting(cue_id, "a", "one", MOUNTING, made_utc=NOON, method="rolled")
    other = bench.log.add_cue("maple")
    assert entry.mounting == MOUNTING
    assert bench.log.mounting_for(cue_id, "a", "one") == entry
    assert bench.log.mounting_for(other.cue_id, "a", "one") is None
    again = bench.log.save_mounting(cue_id, "a", "one", Mounting(), made_utc=NOON)
    assert bench.log.mounting_for(cue_id, "a", "one") == again
    assert bench.log.mountings(cue_id) == [again, entry]
    bench.log.discard_mounting(again.mounting_id)
    assert bench.log.mountings() == [entry]
    bench.log.undo()
    assert bench.log.mountings(other.cue_id) == []
    assert len(bench.log.mountings()) == 2


def test_numbers_that_are_none_are_refused(bench):
    with pytest.raises(PracticeError, match="accel_bias_m_s2 of the calibration has nan"):
        bench.log.save_calibration("a", "b", Calibration(accel_bias_m_s2=(0.0, float("nan"), 0.0)))
    with pytest.raises(PracticeError, match="cue_axis_sd_rad of the mounting has inf"):
        bench.log.save_mounting(1, "a", "b", Mounting(cue_axis_sd_rad=float("inf")))
    with pytest.raises(PracticeError, match="no cue 77"):
        bench.log.save_mounting(77, "a", "b", MOUNTING)
    assert bench.log.calibrations() == []
    assert bench.log.mountings() == []
