"""The pupil's page as a PDF, drawn by fpdf2: pure Python, no browser, no system library.

Pictures are vectors; the font's used part is embedded, so the file prints the same everywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Unpack

from fpdf import FPDF

from cue_practice.log import PracticeLog
from cue_practice.pdf_fonts import BOX, FontFile, fonts_for, lacking, shipped_font, signs_of
from cue_practice.pdf_pictures import draw_pace, draw_plan, draw_speed, legend
from cue_practice.report import CARE, PageChoices, PupilSheet, pupil_sheet
from cue_practice.whole_file import write_whole

_MARGIN_MM = 14.0
_LINE_MM = 4.6
_SMALL_PT, _TEXT_PT, _HEAD_PT, _TITLE_PT = 7.5, 9.5, 11.0, 16.0
_FONT = "page"
_PLAN_MM = 34.0
_GAP_MM = 6.0


def pupil_pdf(
    log: PracticeLog,
    setup_id: int,
    player_id: int,
    tip_below_centre_m: float,
    **choices: Unpack[PageChoices],
) -> bytes:
    """Return the page of one set-up and tip height as a PDF.

    Parameters
    ----------
    log, setup_id, player_id, tip_below_centre_m, **choices
        As for :func:`cue_practice.report.pupil_sheet`, which says what is raised.

    Returns
    -------
    bytes
        A whole file.
    """
    return sheet_pdf(pupil_sheet(log, setup_id, player_id, tip_below_centre_m, **choices))


def write_pdf(pdf: bytes, path: str | Path) -> None:
    """Write a PDF to a file; one that is there is replaced once the new one is whole.

    Parameters
    ----------
    pdf : bytes
        From :func:`pupil_pdf`.
    path : str or Path
        Where to.

    Raises
    ------
    PracticeError
        If it cannot be written.
    """
    write_whole(pdf, path, "page")


def sheet_pdf(sheet: PupilSheet, font_folders: Sequence[Path] | None = None) -> bytes:
    """Return a sheet as a PDF.

    Parameters
    ----------
    sheet : PupilSheet
        What stands on it.
    font_folders : sequence of Path, optional
        Where to look for signs that the shipped font lacks; this system's folders if not given.

    Returns
    -------
    bytes
        A whole file.
    """
    signs = lacking(_all_text(sheet))
    more = fonts_for(signs, font_folders) if signs else []
    page = _Page(sheet, more, signs)
    page.add_page()
    page.head()
    page.bullets(sheet.sentences)
    page.pictures()
    page.part("Pace control", sheet.control)
    page.part("What goes with failure", sheet.failure)
    page.notes()
    page.part("Next exercise", (sheet.exercise,), is_list=False)
    page.care()
    return bytes(page.output())


def _all_text(sheet: PupilSheet) -> str:
    """Return every text that people wrote themselves."""
    return " ".join([sheet.player, sheet.title, sheet.exercise, *sheet.notes, *sheet.sentences])


@dataclass(frozen=True)
class _Swap:
    """Signs that no font has, each to be shown as a box."""

    signs: frozenset[str]

    def __call__(self, text: str) -> str:
        """Return a text that can be drawn."""
        return "".join(
            BOX if sign in self.signs else sign
            for sign in text
            if sign.isprintable() or sign in "\n\t "
        )


class _Page(FPDF):
    """The page as it is filled from top to bottom."""

    def __init__(self, sheet: PupilSheet, more: Sequence[FontFile], signs: set[str]) -> None:
        super().__init__(format="A4")
        self.sheet = sheet
        self.set_margin(_MARGIN_MM)
        self.set_auto_page_break(True, margin=_MARGIN_MM)
        for style in ("", "B"):
            self.add_font(_FONT, style, shipped_font(style))
        missing = self._add_more(more, signs)
        self.said = _Swap(frozenset(missing))
        self.is_lacking = bool(missing)
        self.set_title(self.said(f"{sheet.player}: {sheet.title}"))
        self.set_lang("en")
        self._text()

    def _add_more(self, more: Sequence[FontFile], signs: set[str]) -> set[str]:
        """Add this computer's fonts and return the signs that are still missing."""
        missing, names = set(signs), []
        for k, font in enumerate(more):
            name = f"more{k}"
            self.add_font(name, "", font.path, collection_font_number=font.number)
            has = {sign for sign in missing if ord(sign) in signs_of(font)}
            if has:
                names.append(name)
                missing -= has
        if names:
            self.set_fallback_fonts(names, exact_match=False)
        return missing

    def _text(self, size_pt: float = _TEXT_PT, style: str = "") -> None:
        """Set the font of the words that follow."""
        self.set_font(_FONT, style, size_pt)

    def lines(self, text: str, *, indent_mm: float = 0.0, height_mm: float = _LINE_MM) -> None:
        """Write a paragraph from the left margin on."""
        self.set_x(_MARGIN_MM + indent_mm)
        width = self.w - 2.0 * _MARGIN_MM - indent_mm
        self.multi_cell(width, height_mm, self.said(text), align="L", new_x="LMARGIN", new_y="NEXT")

    def head(self) -> None:
        """Write title, player, place and day."""
        self._text(_TITLE_PT, "B")
        self.lines(self.sheet.title, height_mm=8.0)
        self._text()
        day = f", {self.sheet.day.isoformat()}" if self.sheet.day else ""
        self.lines(f"{self.sheet.player}, tip {self.sheet.place}{day}")
        self.ln(1.5)

    def title_of(self, words: str) -> None:
        """Write the title of a part, never as the last line of a page."""
        if self.will_page_break(4.0 * _LINE_MM):
            self.add_page()
        self.ln(2.0)
        self._text(_HEAD_PT, "B")
        self.lines(words, height_mm=6.0)
        self._text()

    def bullets(self, sentences: Sequence[str]) -> None:
        """Write sentences as a list."""
        for sentence in sentences:
            self.set_x(_MARGIN_MM)
            self.cell(4.0, _LINE_MM, "\N{BULLET}")
            self.lines(sentence, indent_mm=4.0)

    def part(self, title: str, sentences: Sequence[str], *, is_list: bool = True) -> None:
        """Write a part with its title; nothing where there is nothing to say."""
        if not sentences:
            return
        self.title_of(title)
        if is_list:
            self.bullets(sentences)
        else:
            self.lines(" ".join(sentences))

    def pictures(self) -> None:
        """Draw pace and result, the speed of a stroke, and the plan beside both."""
        width = self.w - 2.0 * _MARGIN_MM - _PLAN_MM - _GAP_MM
        plan_height = _PLAN_MM * self.sheet.plan.length / self.sheet.plan.width
        if self.will_page_break(plan_height + 50.0):
            self.add_page()
        self.title_of("Pace and result")
        top = self.get_y()
        self._text(_SMALL_PT)
        bottom = draw_pace(self, self.sheet.curve, _MARGIN_MM + 9.0, top + 1.0, width - 9.0)
        bottom = legend(self, self.sheet.legend, _MARGIN_MM + 9.0, bottom + 2.0)
        left = self.w - _MARGIN_MM - _PLAN_MM
        plan_end = draw_plan(self, self.sheet.plan, left, top + 1.0, _PLAN_MM)
        self.set_xy(left, plan_end + 1.0)
        self.cell(_PLAN_MM, 4.0, "Where it stopped", align="C")
        if self.sheet.speed is not None:
            self.set_xy(_MARGIN_MM, bottom + 2.0)
            self._text(_HEAD_PT, "B")
            self.cell(width, 6.0, f"Speed of the cue, {self.sheet.speed.unit}")
            self._text(_SMALL_PT)
            speed_top = bottom + 9.0
            bottom = draw_speed(self, self.sheet.speed, _MARGIN_MM + 9.0, speed_top, width - 9.0)
            self.set_xy(_MARGIN_MM, bottom + 1.0)
            self.multi_cell(width, 3.6, self.said(self.sheet.speed.caption), align="L",
                            new_x="LMARGIN", new_y="NEXT")  # fmt: skip
            bottom = self.get_y()
        self.set_xy(_MARGIN_MM, max(bottom, plan_end + 5.0))
        self._text()

    def notes(self) -> None:
        """Write the coach's notes, or leave room for them."""
        self.title_of("Notes")
        if not self.sheet.notes:
            self.rect(_MARGIN_MM, self.get_y(), self.w - 2.0 * _MARGIN_MM, 18.0)
            self.set_y(self.get_y() + 18.0)
        for part in self.sheet.notes:
            self.lines(part)
            self.ln(1.0)

    def care(self) -> None:
        """Write the caution, and which signs could not be shown."""
        self.ln(2.5)
        self._text(_SMALL_PT)
        self.lines(CARE, height_mm=3.6)
        if self.is_lacking:
            self.lines(
                f"{BOX} stands for a sign that no font of this computer has; the HTML page has it.",
                height_mm=3.6,
            )
