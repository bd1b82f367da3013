"""The one font family of every page, embedded, and what to do about letters it lacks."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

__all__ = ["BOLD", "REGULAR", "PageFonts", "page_fonts"]

REGULAR = "Fieldlog-Regular"
BOLD = "Fieldlog-Bold"
FILES = {REGULAR: "FiraSans-Regular.ttf", BOLD: "FiraSans-SemiBold.ttf"}


@dataclass(frozen=True)
class PageFonts:
    """The registered faces and the letters both of them can draw."""

    faces: dict[str, Any]
    letters: frozenset[int]

    def width_pt(self, text: str, font: str, size_pt: float) -> float:
        """Width of ``text`` in points; letters stand beside each other without kerning."""
        return _width_of_thousand(self.faces[font], text) * size_pt / 1000.0

    def lacks(self, letter: str) -> bool:
        """Whether neither face has a shape for ``letter``."""
        return ord(letter) not in self.letters


@lru_cache(maxsize=20_000)
def _width_of_thousand(face: Any, text: str) -> float:
    return float(face.stringWidth(text, 1000.0))


@lru_cache(maxsize=1)
def page_fonts() -> PageFonts:
    """Read both faces and make their digits equally wide, so that columns of figures stand in line."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = files("fontpkg_fira_sans").joinpath("files")
    faces = {}
    for name, file_name in FILES.items():
        font = TTFont(name, str(folder.joinpath(file_name)))
        _use_equal_digits(font.face)
        pdfmetrics.registerFont(font)
        faces[name] = font
    letters = frozenset.intersection(*(frozenset(font.face.charToGlyph) for font in faces.values()))
    return PageFonts(faces, letters)


def _use_equal_digits(face: Any) -> None:
    # The family's standard digits differ in width; it carries equally wide ones as an OpenType feature
    # ("tnum"), which the page library does not apply by itself.
    wide = _single_substitutions(face.get_table("GSUB"), b"tnum")
    for character in b"0123456789":
        glyph = wide.get(face.charToGlyph[character])
        if glyph is not None:
            face.charToGlyph[character] = glyph
            face.charWidths[character] = 1000 * face.hmetrics[glyph][0] / face.unitsPerEm


def _single_substitutions(table: bytes, feature: bytes) -> dict[int, int]:
    """Glyph → glyph of the one-to-one lookups under ``feature`` of an OpenType GSUB table."""
    _, _, _, features_at, lookups_at = struct.unpack_from(">HHHHH", table)
    wanted: set[int] = set()
    for number in range(_u16(table, features_at)):
        tag, offset = struct.unpack_from(">4sH", table, features_at + 2 + 6 * number)
        if tag == feature:
            count = _u16(table, features_at + offset + 2)
            wanted.update(struct.unpack_from(f">{count}H", table, features_at + offset + 4))
    found: dict[int, int] = {}
    for lookup in sorted(wanted):
        at = lookups_at + _u16(table, lookups_at + 2 + 2 * lookup)
        kind, _, count = struct.unpack_from(">HHH", table, at)
        for offset in struct.unpack_from(f">{count}H", table, at + 6):
            if kind == 1:
                found.update(_one_to_one(table, at + offset))
    return found


def _one_to_one(table: bytes, at: int) -> dict[int, int]:
    form, coverage, third = struct.unpack_from(">HHH", table, at)
    glyphs = _coverage(table, at + coverage)
    if form == 1:
        return {glyph: (glyph + third) % 65536 for glyph in glyphs}
    return dict(zip(glyphs, struct.unpack_from(f">{third}H", table, at + 6), strict=True))


def _coverage(table: bytes, at: int) -> list[int]:
    form, count = struct.unpack_from(">HH", table, at)
    if form == 1:
        return list(struct.unpack_from(f">{count}H", table, at + 4))
    ranges = (struct.unpack_from(">HHH", table, at + 4 + 6 * number) for number in range(count))
    return [glyph for first, last, _ in ranges for glyph in range(first, last + 1)]


def _u16(table: bytes, at: int) -> int:
    return int(struct.unpack_from(">H", table, at)[0])
