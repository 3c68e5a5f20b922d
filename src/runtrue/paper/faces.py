"""The vendored typefaces: which face has a glyph, how wide a text runs, where a line breaks.

Atkinson Hyperlegible Next carries the text; characters it lacks (Greek, Cyrillic, arrows) fall back on DejaVu Sans. A
character in neither is named by :func:`missing`, so that a page can say "glyph missing in font" and print no box.
"""

from dataclasses import dataclass
from enum import IntEnum
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

FONTS = Path(__file__).parent / "fonts"
FAMILY = '"Atkinson Hyperlegible Next", "DejaVu Sans", sans-serif'
"""The family as a style sheet names it."""


class Weight(IntEnum):
    """400 text, 600 headline and labels, 700 values, identities and verdict words."""

    TEXT = 400
    LABEL = 600
    VALUE = 700


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A stretch of text in one face. ``font`` is the name it is registered under for PDF."""

    font: str
    text: str


_FILES = {
    "RuntrueText": "AtkinsonHyperlegibleNext-400.ttf",
    "RuntrueLabel": "AtkinsonHyperlegibleNext-600.ttf",
    "RuntrueValue": "AtkinsonHyperlegibleNext-700.ttf",
    "RuntrueFallback": "DejaVuSans.ttf",
    "RuntrueFallbackBold": "DejaVuSans-Bold.ttf",
}
_BY_WEIGHT = {
    Weight.TEXT: ("RuntrueText", "RuntrueFallback"),
    Weight.LABEL: ("RuntrueLabel", "RuntrueFallbackBold"),
    Weight.VALUE: ("RuntrueValue", "RuntrueFallbackBold"),
}
ASCENT = 0.74
"""Height of capitals and figures over the base line, with a little air, in sizes of the type."""
DESCENT = 0.24
"""Depth of descenders under the base line, in sizes of the type."""
_REPLACEMENT = "?"


@cache
def registered(font: str) -> Any:
    """Register a vendored face with ReportLab once and return it."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    load: Any = TTFont
    register: Any = pdfmetrics.registerFont
    loaded = load(font, str(FONTS / _FILES[font]))
    register(loaded)
    return loaded


def _has(font: str, character: str) -> bool:
    return ord(character) in registered(font).face.charToGlyph


@lru_cache(maxsize=4096)
def runs(text: str, weight: Weight = Weight.TEXT) -> tuple[Run, ...]:
    """Split text into stretches of one face each; a character in neither face becomes a question mark."""
    first, fallback = _BY_WEIGHT[weight]
    found: list[Run] = []
    for character in text:
        font, shown = first, character
        if not _has(first, character):
            font, shown = (fallback, character) if _has(fallback, character) else (first, _REPLACEMENT)
        if found and found[-1].font == font:
            found[-1] = Run(font=font, text=found[-1].text + shown)
        else:
            found.append(Run(font=font, text=shown))
    return tuple(found)


def missing(text: str) -> str:
    """Return the characters of ``text`` that no vendored face can draw, each once, in order.

    Examples
    --------
    >>> missing("Dvořák, Чайковский")
    ''
    >>> missing("夜の灯台")
    '夜の灯台'
    """
    first, fallback = _BY_WEIGHT[Weight.TEXT]
    lost = [c for c in text if not c.isspace() and not _has(first, c) and not _has(fallback, c)]
    return "".join(dict.fromkeys(lost))


def missing_message(text: str) -> str:
    """Return the sentence a page prints when a title needs a glyph that no face has; empty when none is missing."""
    lost = missing(text)
    if not lost:
        return ""
    return f"glyph missing in font for {len(lost)} characters of the title; name a font that has them in the settings"


@lru_cache(maxsize=16)
def figure_width(weight: Weight = Weight.TEXT) -> float:
    """Width of the widest figure, in sizes of the type: the cell of a figure in a table."""
    return max(width(digit, size=1.0, weight=weight) for digit in "0123456789")


@lru_cache(maxsize=8192)
def width(text: str, *, size: float, weight: Weight = Weight.TEXT, tabular: bool = False) -> float:
    """Return how wide a text runs, in the unit of ``size``. ``tabular`` gives every figure the same cell."""
    if tabular:
        digits = sum(c in "0123456789" for c in text)
        rest = "".join(c for c in text if c not in "0123456789")
        return digits * figure_width(weight) * size + width(rest, size=size, weight=weight)
    return float(sum(registered(run.font).stringWidth(run.text, size) for run in runs(text, weight)))


def wrapped(text: str, *, size: float, room: float, weight: Weight = Weight.TEXT) -> list[str]:
    """Break a text into lines no wider than ``room``; a word that is wider alone is broken inside.

    A no-break space (U+00A0) holds value, sign and unit together.
    """
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        tried = f"{line} {word}" if line else word
        if width(tried, size=size, weight=weight) <= room:
            line = tried
            continue
        if line:
            lines.append(line)
        line = word
        while width(line, size=size, weight=weight) > room and len(line) > 1:
            cut = _fitting(line, size=size, room=room, weight=weight)
            lines.append(line[:cut])
            line = line[cut:]
    return [*lines, line] if line else lines


def _fitting(word: str, *, size: float, room: float, weight: Weight) -> int:
    count = 1
    while count < len(word) and width(word[: count + 1], size=size, weight=weight) <= room:
        count += 1
    return count


def shortened(text: str, *, size: float, room: float, weight: Weight = Weight.TEXT) -> str:
    """Return the text, cut with three points at its end when it is wider than ``room``."""
    if width(text, size=size, weight=weight) <= room:
        return text
    kept = text
    while kept and width(kept + "…", size=size, weight=weight) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…"
