import pytest

from cue_sensors.samples import Mounting
from cue_signal.analysis import analyse
from cue_signal.warm import TIP_SPEED_M_S, plain_stroke


@pytest.mark.parametrize("has_gyroscope", [True, False])
def test_the_stroke_that_warms_up_is_found_with_its_speed(has_gyroscope):
    mounting = Mounting(cue_axis=(1.0, 0.0, 0.0), sensor_from_butt_m=0.2, cue_length_m=1.45)
    (stroke,) = analyse(plain_stroke(has_gyroscope=has_gyroscope), mounting=mounting).strokes
    # a stroke without tremor or tilt: the scale's 1 % is most of what is stated
    assert stroke.tip_speed_m_s == pytest.approx(TIP_SPEED_M_S, rel=0.03)
    assert abs(stroke.tip_speed_m_s - TIP_SPEED_M_S) < 3.0 * stroke.tip_speed_sd_m_s
    # these samples do not trail the motion, as every sensor's own do
    assert stroke.impact_time_s == pytest.approx(2.5, abs=0.012)
