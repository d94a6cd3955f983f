from html.parser import HTMLParser
from xml.etree import ElementTree

import numpy as np
import pytest

from cue_practice.errors import PracticeError
from cue_practice.report import pupil_page, pupil_sheet, write_page

SHOTS = [(1.9, "too_little"), (2.1, "right"), (2.2, "right"), (2.5, "too_much")]


class Texts(HTMLParser):
    """Collects the words of a page, and whatever would run or be fetched."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words, self.tags, self.addresses = [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.addresses += [value for name, value in attrs if name in {"src", "href"}]

    def handle_data(self, data):
        self.words.append(data)


def page_of(bench, **more) -> str:
    series = bench.series
    return pupil_page(bench.log, series.setup_id, series.player_id, 0.0095, **more)


def test_a_page_holds_figures_pictures_notes_and_the_next_exercise(bench):
    shots = bench.play(*SHOTS)
    bench.log.set_result(shots[1].shot_id, stop_point_m=(0.5, 2.4))
    page = page_of(bench, notes="Keep the elbow still.\n\nTen more.")
    said = " ".join(Texts(page).words)
    for words in (
        "Long lane", "Heron, tip 9.5 mm below centre, 2026-03-04", "4 shots: 1 with too little",
        "Best pace about", "Keep the elbow still.", "Ten more.", "Next exercise",
        "Ten from the mark, tip 9.5 mm below centre", "ask a physiotherapist",
    ):  # fmt: skip
        assert words in said
    svgs = [ElementTree.fromstring(part + "</svg>") for part in pieces(page, "<svg")]
    # every graded shot in the curve, and the one whose stop was tapped on the plan
    assert [count_marks(svg) for svg in (svgs[0], svgs[3])] == [4, 1]


def pieces(page: str, start: str) -> list[str]:
    return [start + part.split("</svg>")[0] for part in page.split(start)[1:]]


def count_marks(svg: ElementTree.Element) -> int:
    shapes = {"path", "circle", "rect"}
    return sum(one.tag in shapes and one.get("class") is not None for one in svg)


def test_a_page_runs_nothing_and_fetches_nothing(bench):
    bench.play(*SHOTS)
    found = Texts(page_of(bench))
    assert "script" not in found.tags
    assert found.addresses == []


def test_names_and_notes_are_escaped(bench, setup):
    player = bench.log.add_player("<script>alert(1)</script>")
    page = pupil_page(
        bench.log, bench.series.setup_id, player.player_id, 0.0095, notes="<b>bold</b> & more"
    )
    assert "<script>" not in page
    assert "&lt;b&gt;bold&lt;/b&gt; &amp; more" in page


def test_the_speed_of_the_last_stroke_is_drawn_beside_the_right_ones(bench):
    """The made stroke's speed is cos(t): 1 m/s at its hit at t = 50 s would be cos(50)."""
    shots = bench.play(*SHOTS)
    series = bench.series
    sheet = pupil_sheet(bench.log, series.setup_id, series.player_id, 0.0095)
    assert len(sheet.speed.others) == 2
    assert "2.50 m/s" in sheet.speed.caption
    assert "too much stun; 2 right ones behind it in grey" in sheet.speed.caption
    hit_s = shots[-1].stroke.impact_time_s
    tick_y, tick = sheet.speed.speed_ticks[-1]
    per_m_s = (sheet.speed.rest_y - tick_y) / float(tick)
    at_hit = min(sheet.speed.shown, key=lambda point: abs(point[0] - sheet.speed.hit_x))
    # half a sample of 5 ms either way, at a slope of at most 1 m/s^2
    assert (sheet.speed.rest_y - at_hit[1]) / per_m_s == pytest.approx(np.cos(hit_s), abs=0.006)
    one = pupil_sheet(
        bench.log, series.setup_id, series.player_id, 0.0095, shot_id=shots[0].shot_id
    )
    assert "1.90 m/s" in one.speed.caption


def test_a_shot_without_a_stroke_cannot_be_drawn(bench):
    shot = bench.log.add_shot(bench.series.series_id)
    with pytest.raises(PracticeError, match=f"Shot {shot.shot_id} has no stroke to draw"):
        page_of(bench, shot_id=shot.shot_id)


def test_the_newest_lesson_gives_notes_and_exercise(bench):
    player_id = bench.series.player_id
    bench.log.add_lesson(player_id, text="Bridge lower.", exercise="Five at 2 m/s, eyes shut.")
    said = " ".join(Texts(page_of(bench)).words)
    assert "Bridge lower." in said
    assert "Five at 2 m/s, eyes shut." in said
    assert "Bridge lower." not in page_of(bench, notes="Today: pause longer.")


def test_a_page_without_shots_says_so(bench):
    said = " ".join(Texts(page_of(bench)).words)
    assert "No shot with pace and result yet" in said
    assert "nothing can be told yet" in said


def test_shots_of_another_side_stay_off_the_page(bench, make_stroke):
    bench.play(*SHOTS)
    other = bench.another_series(side_m=0.005)
    shot = bench.add(make_stroke(900.0), series_id=other.series_id)[0]
    bench.log.set_result(shot.shot_id, "right")
    svg = ElementTree.fromstring(pieces(page_of(bench), "<svg")[0] + "</svg>")
    assert count_marks(svg) == 4


def test_a_page_is_written_whole_or_refused(bench, tmp_path):
    write_page("<p>ü</p>", tmp_path / "page.html")
    assert (tmp_path / "page.html").read_text(encoding="utf-8") == "<p>ü</p>"
    with pytest.raises(PracticeError, match=r"cannot be written to .*nowhere/page\.html"):
        write_page("", tmp_path / "nowhere" / "page.html")
