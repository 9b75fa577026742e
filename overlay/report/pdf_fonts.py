"""The letters of a PDF page: which font draws each, and how wide a text becomes; and its colours."""

from __future__ import annotations

import os
import sys
from functools import cache, lru_cache
from html import escape
from pathlib import Path
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from overlay.plain_text import visible

REGULAR, BOLD = "Page", "PageBold"
color_of = cache(HexColor)
"""A colour of the PDF library by its number; read once."""
# Letters that data often hold and the fonts lack, by ones they have.
_NEAREST = {
    "\N{NARROW NO-BREAK SPACE}": "\N{NO-BREAK SPACE}",
    "\N{GREEK CAPITAL LETTER OMEGA}": "\N{OHM SIGN}",
    "\N{OHM SIGN}": "Ω",
    "\N{GREEK SMALL LETTER MU}": "µ",
    "\N{GREEK CAPITAL LETTER DELTA}": "\N{INCREMENT}",
    "\N{RIGHTWARDS ARROW}": "»",
}
# Fonts with many scripts as systems carry them, the plainest first: asked only for letters that the page's own lack.
_OF_THE_SYSTEM = (
    "DejaVuSans.ttf",
    "LiberationSans-Regular.ttf",
    "arial.ttf",
    "Arial.ttf",
    "NotoSans-Regular.ttf",
    "DroidSansFallbackFull.ttf",
    "wqy-microhei.ttc",
    "wqy-zenhei.ttc",
    "Arial Unicode.ttf",
    "msyh.ttc",
    "msgothic.ttc",
    "malgun.ttf",
    "FreeSans.ttf",
)


@cache
def register_fonts() -> None:
    """Make the page's two fonts known; they come with the PDF library and hold Latin letters and signs."""
    import reportlab

    folder = Path(reportlab.__file__).parent / "fonts"
    pdfmetrics.registerFont(TTFont(REGULAR, str(folder / "Vera.ttf")))
    pdfmetrics.registerFont(TTFont(BOLD, str(folder / "VeraBd.ttf")))
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)


_TEXTS = 1 << 16  # whose width is kept: those of some twenty large reports


@lru_cache(_TEXTS)
def printable(text: str) -> str:
    """The text with letters that no font has replaced by the nearest, else by their number, so that names differ."""
    return text if _plain(text) else "".join(letters for _, letters in runs(text))


def _plain(text: str) -> bool:
    """Whether every letter is one of the page's own fonts, and visible."""
    return text.isascii() and text.isprintable()


def runs(text: str, *, bold: bool = False) -> list[tuple[str, str]]:
    """The text as pieces of one font each: (font, letters)."""
    register_fonts()
    own = BOLD if bold else REGULAR
    if _plain(text):
        return [(own, text)] if text else []
    found: list[tuple[str, str]] = []
    for letter in visible(text):
        font, drawn = _drawn(letter, own)
        if found and found[-1][0] == font:
            found[-1] = (font, found[-1][1] + drawn)
        else:
            found.append((font, drawn))
    return found


@lru_cache(_TEXTS)
def width_mm(text: str, size_pt: float, *, bold: bool = False) -> float:
    """How wide a text is in a font of that size."""
    register_fonts()
    if _plain(text):
        return float(pdfmetrics.stringWidth(text, BOLD if bold else REGULAR, size_pt) / mm)
    return float(sum(pdfmetrics.stringWidth(part, font, size_pt) for font, part in runs(text, bold=bold)) / mm)


def markup(text: str, *, bold: bool = False) -> str:
    """The text as a paragraph takes it: nothing of it is markup but the fonts that some letters need."""
    own = BOLD if bold else REGULAR
    return "".join(
        escape(part, quote=False) if font == own else f'<font name="{font}">{escape(part, quote=False)}</font>'
        for font, part in runs(text, bold=bold)
    )


def fitted(text: str, room_mm: float, size_pt: float, *, bold: bool = False) -> str:
    """The text cut, with an ellipsis, to what fits the width."""
    text = printable(text)
    if width_mm(text, size_pt, bold=bold) <= room_mm:
        return text
    while text and width_mm(text + "…", size_pt, bold=bold) > room_mm:
        text = text[:-1]
    return text.rstrip() + "…"


def draw_text(canvas: Any, text: str, x_mm: float, y_mm: float, size_pt: float, *, bold: bool = False) -> None:
    """Write a line of text from its left end, each letter in a font that has it."""
    at = x_mm * mm
    for font, part in runs(text, bold=bold):
        canvas.setFont(font, size_pt)
        canvas.drawString(at, y_mm * mm, part)
        at += pdfmetrics.stringWidth(part, font, size_pt)


def _has(font: str, letter: str) -> bool:
    return ord(letter) in pdfmetrics.getFont(font).face.charToGlyph


@cache
def _drawn(letter: str, own: str) -> tuple[str, str]:
    """The font that draws a letter, and as what."""
    if _has(own, letter):
        return own, letter
    near = _NEAREST.get(letter)
    if near is not None and _has(own, near):
        return own, near
    other = next((font for font in _system_fonts() if _has(font, letter)), None)
    return (own, f"[U+{ord(letter):04X}]") if other is None else (other, letter)


@cache
def _system_fonts() -> tuple[str, ...]:
    """Fonts of this computer for what the page's own lack, registered; none is no failure."""
    found: dict[str, Path] = {}
    for folder in _font_folders():
        for path in sorted(folder.rglob("*.tt[fc]")):
            found.setdefault(path.name, path)
    usable = []
    for number, name in enumerate(name for name in _OF_THE_SYSTEM if name in found):
        try:
            pdfmetrics.registerFont(TTFont(f"System{number}", str(found[name])))
        except Exception:  # a font file that the PDF library cannot use is none; it says so in many ways
            continue
        usable.append(f"System{number}")
    return tuple(usable)


def _font_folders() -> tuple[Path, ...]:
    if sys.platform == "win32":
        return (Path(os.environ.get("WINDIR", r"C:\Windows")) / "Fonts",)
    if sys.platform == "darwin":
        return Path("/System/Library/Fonts"), Path("/Library/Fonts")
    return Path("/usr/share/fonts"), Path("/usr/local/share/fonts")
