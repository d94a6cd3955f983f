import io

import pytest
from pypdf import PdfReader

from cue_practice import pdf_fonts
from cue_practice.errors import PracticeError
from cue_practice.pdf_fonts import FontFile, fonts_for, lacking, shipped_font
from cue_practice.report import pupil_sheet
from cue_practice.report_pdf import pupil_pdf, sheet_pdf, write_pdf

SHOTS = [(1.9, "too_little"), (2.1, "right"), (2.2, "right"), (2.5, "too_much")]


def read(pdf: bytes) -> PdfReader:
    """Return what an independent reader makes of a PDF."""
    return PdfReader(io.BytesIO(pdf), strict=True)


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in read(pdf).pages).split())


def sheet_of(bench, **more):
    series = bench.series
    return pupil_sheet(bench.log, series.setup_id, series.player_id, 0.0095, **more)


def test_the_pdf_says_what_the_sheet_says(bench):
    shots = bench.play(*SHOTS)
    bench.log.set_result(shots[1].shot_id, stop_point_m=(0.5, 2.4))
    series = bench.series
    pdf = pupil_pdf(
        bench.log, series.setup_id, series.player_id, 0.0095, notes="Elbow still.\n\nTen more."
    )
    said = words_of(pdf)
    for words in (
        "Long lane", "Heron, tip 9.5 mm below centre, 2026-03-04", "4 shots: 1 with too little",
        "Best pace about", "Elbow still.", "Ten more.", "Next exercise", "Speed of the cue",
        "ms from the hit", "pace, m/s", "ask a physiotherapist",
    ):  # fmt: skip
        assert words in said
    assert len(read(pdf).pages) == 1
    assert read(pdf).metadata.title == "Heron: Long lane"


def test_pictures_are_vectors_and_fonts_are_embedded(bench):
    bench.play(*SHOTS)
    (page,) = read(sheet_pdf(sheet_of(bench))).pages
    assert list(page.images) == []
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
    files = [font["/DescendantFonts"][0]["/FontDescriptor"]["/FontFile2"] for font in fonts]
    assert all(len(file.get_data()) > 1000 for file in files)
    drawn = page.get_contents().get_data()
    # a mark of a right shot is a disc of four curves; lines of the picture have 101 points each
    assert drawn.count(b" c\n") + drawn.count(b" c ") >= 8
    assert drawn.count(b" l\n") + drawn.count(b" l ") > 300


def test_names_in_many_alphabets_are_written(bench):
    player = bench.log.add_player("Żółw z Łodzi")
    names = "Ωρίωνας, Чайка, Ærøskøbing, Çağ"
    pdf = pupil_pdf(bench.log, bench.series.setup_id, player.player_id, 0.0095, notes=names)
    assert "Żółw z Łodzi" in words_of(pdf)
    assert names in words_of(pdf)


def test_a_sign_that_no_font_has_is_a_box_and_said_so(bench, tmp_path):
    sheet = sheet_of(bench, notes="你好 and a \N{BILLIARDS}, a\x07bell")
    pdf = sheet_pdf(sheet, font_folders=[tmp_path / "nowhere"])
    said = words_of(pdf)
    assert "\N{WHITE SQUARE}\N{WHITE SQUARE} and a \N{WHITE SQUARE}, abell" in said
    assert "stands for a sign that no font of this computer has" in said


def test_a_font_of_this_computer_lends_its_signs(tmp_path):
    """The shipped font, under another name, stands for a computer's own."""
    (tmp_path / "Broken.ttf").write_bytes(b"no font")
    (tmp_path / "Unifont-Regular.ttf").write_bytes(shipped_font().read_bytes())
    assert fonts_for("Ω", [tmp_path]) == [FontFile(tmp_path / "Unifont-Regular.ttf")]
    assert fonts_for("你", [tmp_path]) == []
    assert all(folder.is_absolute() for folder in pdf_fonts.folders_of_system())


def test_what_the_shipped_font_has_is_known():
    assert lacking("Größe, Źdźbło, Ελλάδα, Ёж, ½ ± °") == set()
    assert lacking("a你b好") == {"你", "好"}


def test_a_long_letter_takes_more_pages(bench):
    pdf = sheet_pdf(sheet_of(bench, notes="\n\n".join(["Keep the elbow still. " * 20] * 12)))
    assert len(read(pdf).pages) > 1
    assert "No shot with pace and result yet" in words_of(pdf)
    assert "Speed of the cue" not in words_of(pdf)


def test_a_pdf_is_written_whole_or_refused(bench, tmp_path):
    write_pdf(b"%PDF-", tmp_path / "page.pdf")
    assert (tmp_path / "page.pdf").read_bytes() == b"%PDF-"
    with pytest.raises(PracticeError, match=r"cannot be written to .*nowhere/page\.pdf"):
        write_pdf(b"", tmp_path / "nowhere" / "page.pdf")
