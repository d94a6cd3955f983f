import pytest

from cue_bench.maker import MadeSession, make_strokes


@pytest.fixture(scope="session")
def made() -> MadeSession:
    return make_strokes(6, 20, has_roll=True)
