"""The one way any text comes onto a page: cleaned, with letters the font lacks shown and named.

Text is drawn letter by letter and never read as markup, so a name such as ``<img src=…>`` is only a name.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field

from fieldlog.sheets.fonts import PageFonts

__all__ = ["STAND_IN", "LetterCase", "clean", "fitted", "wrapped"]

STAND_IN = "◊"
ELLIPSIS = "…"
NO_BREAK = "\u00a0"

# Zero-width and direction controls: they show nothing themselves and reorder or hide what stands beside.
_DIRECTION_AND_ZERO_WIDTH = frozenset(
    "\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180e\u200b\u200c\u200d\u200e\u200f"
    "\u202a\u202b\u202c\u202d\u202e\u2060\u2061\u2062\u2063\u2064\u2066\u2067\u2068\u2069"
    "\u206a\u206b\u206c\u206d\u206e\u206f\u3164\ufeff\uffa0"
)
_MOST_COMBINING_MARKS = 2


def clean(text: str) -> str:
    """Return ``text`` on one line without control, direction and zero-width characters.

    Composed (NFC), blanks run together; at most two combining marks stay on a letter, so that none of
    them climbs into the next line.
    """
    kept: list[str] = []
    marks = 0
    for character in unicodedata.normalize("NFC", text):
        if character in _DIRECTION_AND_ZERO_WIDTH:
            continue
        category = unicodedata.category(character)
        marks = marks + 1 if category in ("Mn", "Me") else 0
        if marks > _MOST_COMBINING_MARKS:
            continue
        if category == "Cs":
            kept.append(STAND_IN)
        elif category in ("Cc", "Cf", "Zl", "Zp") or (category == "Zs" and character != NO_BREAK):
            kept.append(" ")
        else:
            kept.append(character)
    return " ".join(piece for piece in "".join(kept).split(" ") if piece)


@dataclass
class LetterCase:
    """Hands out drawable text and remembers every letter the font could not draw."""

    fonts: PageFonts
    missing: dict[str, None] = field(default_factory=dict)

    def drawable(self, text: str) -> str:
        """Clean ``text`` and put a visible stand-in where the font has no such letter."""
        letters = []
        for letter in clean(text):
            if self.fonts.lacks(letter):
                self.missing[letter] = None
                letters.append(STAND_IN)
            else:
                letters.append(letter)
        return "".join(letters)

    def remark(self) -> str:
        """What the page says of the letters it could not draw, or nothing."""
        if not self.missing:
            return ""
        points = [f"U+{ord(letter):04X}" for letter in self.missing]
        more = f" and {len(points) - 8} more" if len(points) > 8 else ""
        return (
            f"Letters the font of this page lacks are shown as {STAND_IN}: {', '.join(points[:8])}{more}. "
            "The records keep them."
        )


def fitted(fonts: PageFonts, text: str, font: str, size_pt: float, width_pt: float) -> str:
    """Return ``text``, shortened with an ellipsis where it is wider than ``width_pt``."""
    if fonts.width_pt(text, font, size_pt) <= width_pt:
        return text
    room_pt = width_pt - fonts.width_pt(ELLIPSIS, font, size_pt)
    return text[: _letters_within(fonts, text, font, size_pt, room_pt)].rstrip() + ELLIPSIS


def wrapped(fonts: PageFonts, text: str, font: str, size_pt: float, width_pt: float) -> list[str]:
    """Break ``text`` at blanks into lines no wider than ``width_pt``; a longer word is broken inside."""
    blank_pt = fonts.width_pt(" ", font, size_pt)
    lines: list[str] = []
    line, taken_pt = "", 0.0
    for word in text.split(" "):
        word_pt = fonts.width_pt(word, font, size_pt)
        if line and taken_pt + blank_pt + word_pt <= width_pt:
            line, taken_pt = f"{line} {word}", taken_pt + blank_pt + word_pt
            continue
        if line:
            lines.append(line)
        line, taken_pt = word, word_pt
        while taken_pt > width_pt and len(line) > 1:
            cut = max(_letters_within(fonts, line, font, size_pt, width_pt), 1)
            lines.append(line[:cut])
            line = line[cut:]
            taken_pt = fonts.width_pt(line, font, size_pt)
    if line or not lines:
        lines.append(line)
    return lines


def _letters_within(fonts: PageFonts, text: str, font: str, size_pt: float, width_pt: float) -> int:
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if fonts.width_pt(text[:middle], font, size_pt) <= width_pt:
            low = middle
        else:
            high = middle - 1
    return low
