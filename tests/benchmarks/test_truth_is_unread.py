from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("sensors", "signal", "table", "practice", "dashboard", "recordings")


@pytest.mark.parametrize("package", PACKAGES)
def test_no_package_reads_the_truth(package: str) -> None:
    sources = list((ROOT / package).rglob("*.py"))
    assert sources
    for source in sources:
        text = source.read_text(encoding="utf-8")
        assert "truth.json" not in text, source
        assert ".truth" not in text, source
        assert "cue_bench" not in text, source
