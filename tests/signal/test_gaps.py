import numpy as np
import pytest

from cue_signal.gaps import GAP_ACCEL_M_S2, gap_terms, steps
from cue_signal.integrals import running_integral
from cue_signal.strapdown import Path
from cue_signal.windows import Window


def test_a_gap_may_hide_what_a_feather_gains_in_it():
    time_s = np.concatenate([np.arange(100), np.arange(140, 240)]) / 200.0
    n = len(time_s)
    still = np.zeros((n, 3))
    window = Window(time_s, still, None, np.zeros(n, dtype=np.bool_), np.array([100]), 0.005)
    index, sds = gap_terms(window, Path(still, still[:, 0], None, None, 0.0, 0.1), n)
    assert index.tolist() == [100]
    # 41 periods lie between the two samples beside it, the cue still on both sides
    assert sds == pytest.approx([GAP_ACCEL_M_S2 * 41 * 0.005])
    # a gap after the stretch asked for is left alone
    assert len(gap_terms(window, Path(still, still[:, 0], None, None, 0.0, 0.1), 100)[0]) == 0
    # gained evenly within the gap, a metre a second goes half its length, then its own way
    way = running_integral(steps(index, n), time_s)[:, 0]
    assert way[99] == 0.0
    assert way[100] == pytest.approx(0.5 * 0.205)
    assert way[-1] == pytest.approx(0.5 * 0.205 + time_s[-1] - time_s[100])
