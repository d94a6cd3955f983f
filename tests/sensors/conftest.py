"""A sensor whose truth is known: every sample carries its own number."""

import pytest

from cue_bench.numbered import LATENCY_S, NumberedSensor


@pytest.fixture
def fake_sensor():
    return NumberedSensor


@pytest.fixture
def latency_s():
    return LATENCY_S


@pytest.fixture(scope="session")
def fake_sensor_class():
    """Return the same for property tests, which must not depend on a function's fixture."""
    return NumberedSensor
