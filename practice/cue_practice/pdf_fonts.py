"""Fonts for the PDF: one that is shipped, and this computer's own for signs it lacks.

The shipped font has Latin, Greek, Cyrillic, Arabic, Hebrew and more, but no Chinese, Japanese or
Korean: fonts that have them are ten times its size, and computers of people who write them have
one. A sign that no font at hand has is shown as an empty box, and the page says so.
"""

import logging
import os
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from fontTools.ttLib import TTFont, TTLibError

LOG = logging.getLogger(__name__)

SHIPPED = {"": "DejaVuSans.ttf", "B": "DejaVuSans-Bold.ttf"}
"""Shipped fonts by style."""

BOX = "\N{WHITE SQUARE}"
"""Stands for a sign that no font has."""

_NAMES = (
    "notosanscjk", "notosanssc", "notosansjp", "notosanskr", "sourcehansans", "droidsansfallback",
    "wqy", "msyh", "msgothic", "malgun", "simsun", "pingfang", "hiragino", "applesdgothic",
    "stheiti", "arialunicode", "arial unicode", "ipaexg", "nanumgothic", "unifont", "noto",
    "symbol",
)  # fmt: skip
"""Beginnings of the names of files to look into, the likeliest first."""

_MOST_FONTS = 40
_SUFFIXES = {".ttf", ".otf", ".ttc"}


@dataclass(frozen=True)
class FontFile:
    """A font of this computer.

    Parameters
    ----------
    path : Path
        Where it lies.
    number : int
        Which of a collection.
    """

    path: Path
    number: int = 0


def shipped_font(style: str = "") -> Path:
    """Return the file of the shipped font: plain, or bold for ``"B"``."""
    return Path(str(files("cue_practice"))) / "fonts" / SHIPPED[style]


def lacking(text: str) -> set[str]:
    """Return the signs of a text that the shipped font does not have.

    Parameters
    ----------
    text : str
        Anything.

    Examples
    --------
    >>> sorted(lacking("Żółw, Ωmega"))
    []
    """
    known = signs_of(FontFile(shipped_font()))
    return {sign for sign in text if sign.isprintable() and ord(sign) not in known}


def fonts_for(signs: Iterable[str], folders: Iterable[Path] | None = None) -> list[FontFile]:
    """Return fonts of this computer that have at least some of these signs.

    Parameters
    ----------
    signs : iterable of str
        What to look for.
    folders : iterable of Path, optional
        Where to look; the usual folders of this system if not given.

    Returns
    -------
    list of FontFile
        No more than are needed; empty where none has any.
    """
    wanted, found = {ord(sign) for sign in signs}, []
    for font in _candidates(folders):
        if not wanted:
            break
        here = wanted & signs_of(font)
        if here:
            found.append(font)
            wanted -= here
    return found


def folders_of_system() -> list[Path]:
    """Return the folders in which this system keeps its fonts."""
    home = Path.home()
    if sys.platform == "win32":
        windows = Path(os.environ.get("WINDIR", r"C:\Windows"))
        return [windows / "Fonts", home / "AppData/Local/Microsoft/Windows/Fonts"]
    if sys.platform == "darwin":
        return [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"]
    shared = [Path("/usr/share/fonts"), Path("/usr/local/share/fonts")]
    return [*shared, home / ".local/share/fonts", home / ".fonts"]


def _candidates(folders: Iterable[Path] | None) -> Iterator[FontFile]:
    """Yield font files, the likeliest to have rare signs first."""
    everywhere = folders_of_system() if folders is None else folders
    paths = [
        path
        for folder in everywhere
        if folder.is_dir()
        for path in folder.rglob("*")
        if path.suffix.lower() in _SUFFIXES
    ]
    for path in sorted(paths, key=_likelihood)[:_MOST_FONTS]:
        yield FontFile(path)


def _likelihood(path: Path) -> tuple[int, int, str]:
    """Return the place of a file in the search: by name, regular weights first."""
    name = path.stem.lower().replace("-", "").replace("_", "")
    place = next((k for k, start in enumerate(_NAMES) if name.startswith(start)), len(_NAMES))
    return place, 0 if "regular" in name else 1, str(path)


@lru_cache(maxsize=64)
def signs_of(font: FontFile) -> frozenset[int]:
    """Return the signs a font has, as numbers; none where the file cannot be read."""
    try:
        with (
            font.path.open("rb") as stream,
            TTFont(stream, fontNumber=font.number, lazy=True) as opened,
        ):
            if "glyf" not in opened and "CFF " not in opened:
                return frozenset()
            return frozenset(opened.getBestCmap() or {})
    except (OSError, TTLibError, KeyError, AttributeError, ValueError) as error:
        LOG.debug("font %s cannot be read: %s", font.path, error)
        return frozenset()
