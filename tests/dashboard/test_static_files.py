"""Files the browser keeps, and the drawing library among them."""

import re
from pathlib import Path

import pytest
from plotly.offline import get_plotlyjs_version

from cue_dashboard.shown import SCHEME_COOKIE, UNIT_COOKIE, scale_shown, scheme_shown
from cue_dashboard.static_files import DRAWING, YEAR_S


@pytest.fixture
def assets(app):
    """Return the folder of style and scripts."""
    return Path(app.config.assets_folder)


def test_a_file_asked_for_by_its_version_may_be_kept_and_another_not(app):
    client = app.server.test_client()
    with client.get("/assets/stunpace.js?m=1") as kept:
        assert (kept.cache_control.max_age, kept.cache_control.immutable) == (YEAR_S, True)
    for other in ("/assets/stunpace.js", "/assets/none.js?m=1"):
        with client.get(other) as answer:
            assert answer.cache_control.max_age is None


def test_the_drawing_library_is_the_one_that_the_figures_are_written_for(assets):
    version = re.search(r"plotly\.js \(basic .*?v([\d.]+)", (assets / DRAWING).read_text()[:300])[1]
    asked = re.search(DRAWING + r"\?m=([\d.]+)", (assets / "stunpace.js").read_text())[1]
    assert asked == version
    # figures written for one major version are understood by all of it
    assert version.split(".")[0] == get_plotlyjs_version().split(".")[0]


def test_the_drawing_library_is_not_read_before_a_figure_needs_it(app):
    page = app.server.test_client().get("/").get_data(as_text=True)
    assert "stunpace.js" in page
    assert DRAWING not in page
    assert "plotly.min.js" not in page


def test_every_figure_is_of_lines_and_marks_which_is_all_the_library_draws(assets):
    figures = assets.parent / "figures"
    drawn = set(re.findall(r"\.add_(\w+)\(|go\.([A-Z]\w+)\(", "\n".join(
        file.read_text(encoding="utf-8") for file in figures.glob("*.py")
    )))  # fmt: skip
    names = {name for pair in drawn for name in pair if name}
    shapes = {"annotation", "shape", "span", "vline", "hline", "vrect", "hrect"}
    assert names <= {"scatter", "Figure", *shapes}
    assert "scatter" in names


def test_how_things_are_shown_is_told_by_the_browser_and_never_trusted(app):
    cookies = f"{SCHEME_COOKIE}=dark; {UNIT_COOKIE}=m%2Fs"
    with app.server.test_request_context(headers={"Cookie": cookies}):
        assert (scheme_shown(), scale_shown().unit) == ("dark", "m/s")
    with app.server.test_request_context(headers={"Cookie": cookies.replace("m%2Fs", "mph")}):
        assert scale_shown().unit == "mph"
    with app.server.test_request_context(headers={"Cookie": f"{UNIT_COOKIE}=<b>"}):
        assert (scheme_shown(), scale_shown().unit) == ("light", "m/s")
    assert (scheme_shown(), scale_shown().unit) == ("light", "m/s")
