"""``stunpace export`` as a player or a coach meets it."""

import sys

import pandas as pd
import pytest
from pypdf import PdfReader

from cue_dashboard.cli import main


@pytest.fixture
def export(log, played, tmp_path, monkeypatch, capsys):
    """Return a function that runs ``stunpace export`` on the log: (exit code, stdout, stderr)."""
    monkeypatch.setenv("STUNPACE_DATABASE", f"sqlite:///{tmp_path / 'practice.sqlite3'}")

    def call(*arguments):
        monkeypatch.setattr(sys, "argv", ["stunpace", "export", *map(str, arguments)])
        with pytest.raises(SystemExit) as end:
            main()
        streams = capsys.readouterr()
        return end.value.code or 0, streams.out, streams.err

    return call


def test_shots_are_written_as_tables_of_the_chosen_days(export, played, tmp_path):
    n = len(played)
    assert export("csv", tmp_path / "a.csv")[:2] == (
        0,
        f"{n} shots written to {tmp_path / 'a.csv'}.\n",
    )
    assert len(pd.read_csv(tmp_path / "a.csv")) == n
    code, said, _ = export("parquet", tmp_path / "a.parquet", "--until", "2020-01-01")
    assert (code, said.split()[0]) == (0, "0")
    assert export("csv", tmp_path / "e.csv", "--what", "evenings")[1].startswith("1 evening ")
    export("parquet", tmp_path / "b.parquet", "--player", "PLOVER", "--set-up", "Window side")
    assert list(pd.read_parquet(tmp_path / "b.parquet")["shot_id"]) == [s.shot_id for s in played]


def test_a_file_that_is_there_is_replaced_only_when_asked(export, tmp_path):
    (tmp_path / "a.csv").write_text("mine")
    code, _, error = export("csv", tmp_path / "a.csv")
    assert code == 1
    assert "There is already a file" in error
    assert (tmp_path / "a.csv").read_text() == "mine"
    assert export("csv", tmp_path / "a.csv", "--overwrite")[0] == 0


def test_a_page_comes_as_pdf_and_html_in_the_chosen_unit(export, tmp_path):
    code, said, _ = export(
        "pdf", tmp_path / "p.pdf", "--unit", "mph", "--notes", "Chin on the cue."
    )
    assert code == 0
    assert said.startswith("The page on Plover, Window side, ")
    text = PdfReader(tmp_path / "p.pdf").pages[0].extract_text()
    assert "mph" in text
    assert "m/s" not in text
    assert "Chin on the cue." in text
    (tmp_path / "notes.txt").write_text("Głowa nisko.", encoding="utf-8")
    export("pupil-page", tmp_path / "p.html", "--notes-file", tmp_path / "notes.txt")
    assert "Głowa nisko." in (tmp_path / "p.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--player", "Nobody"), "There is no player 'Nobody' in the log. There is: Plover."),
        (("--set-up", "Elsewhere"), "There is no set-up 'Elsewhere'"),
        (("--height-mm", "77"), "Nobody has played that. There is: Plover, Window side"),
        (("--shot", "4711"), "no shot 4711"),
    ],
)
def test_what_is_not_there_is_named(export, tmp_path, options, words):
    code, _, error = export("pupil-page", tmp_path / "p.html", *options)
    assert code == 1
    assert words in error
    assert not (tmp_path / "p.html").exists()
