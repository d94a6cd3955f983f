import math
from dataclasses import replace

import numpy as np
import pytest

from cue_practice.prior import NO_BAND_SD_LOG, PacePrior
from cue_table.cloth import Cloth
from cue_table.errors import TableError
from cue_table.shot import play_many
from cue_table.stun import dead_stun_tip_speed_m_s
from cue_table.tip import Cue


def test_the_band_is_that_of_the_paces_that_land(setup):
    prior = PacePrior.from_table(setup, 0.0095)
    assert prior.band_m_s is not None
    low, high = prior.band_m_s
    inside = play_many(setup, np.geomspace(low * 1.01, high / 1.01, 20), below_centre_m=0.0095)
    assert setup.lands(inside.stop_m).all()
    outside = play_many(setup, np.array([low / 1.03, high * 1.03]), below_centre_m=0.0095)
    assert not setup.lands(outside.stop_m).any()
    assert prior.centre_m_s == pytest.approx(math.sqrt(low * high))
    assert prior.half_width_log == pytest.approx(math.log(high / low) / 2)
    assert prior.source == "the table model"


def test_the_centre_is_no_surer_than_the_cloth(setup):
    """Dead-stun pace goes with the root of friction: 16 % of friction are 8 % of pace."""
    prior = PacePrior.from_table(setup, 0.0095)
    assert 0.08 < prior.centre_sd_log < 0.15


def test_a_slower_cloth_wants_more_pace(setup):
    quick, slow = (
        PacePrior.from_table(setup, 0.0095, Cue(), Cloth(sliding_friction=friction)).centre_m_s
        for friction in (0.18, 0.24)
    )
    # exactly the root where stun alone decides; the way off the cushion adds to it
    assert slow / quick == pytest.approx(math.sqrt(0.24 / 0.18), rel=0.1)


def test_where_no_pace_lands_dead_stun_stands_in_with_a_wide_doubt(setup):
    nowhere = replace(setup, landing_area_m=((1.6, 0.1), (1.7, 0.1), (1.65, 0.15)))
    prior = PacePrior.from_table(nowhere, 0.0095)
    assert prior.band_m_s is None
    assert prior.centre_m_s == pytest.approx(dead_stun_tip_speed_m_s(nowhere.travel_m, 0.0095))
    assert prior.centre_sd_log == NO_BAND_SD_LOG


def test_a_white_struck_at_its_centre_has_a_prior_too(setup):
    prior = PacePrior.from_table(setup, 0.0)
    assert np.isfinite([prior.centre_m_s, prior.centre_sd_log]).all()


def test_a_height_no_cue_can_play_is_refused(setup):
    with pytest.raises(TableError, match="mm"):
        PacePrior.from_table(setup, 0.025)
