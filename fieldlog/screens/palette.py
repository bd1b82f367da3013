"""Colours: the Okabe–Ito set, each state also in words; three themes, one of high contrast."""

from __future__ import annotations

from functools import lru_cache

from rich.style import Style
from textual.theme import Theme

__all__ = ["DEFAULT_THEME", "ROLES", "THEMES", "role_style"]

# Okabe and Ito 2008, "Color Universal Design": told apart under every common colour vision.
BLACK, WHITE = "#000000", "#ffffff"
ORANGE, SKY, GREEN, YELLOW = "#E69F00", "#56B4E9", "#009E73", "#F0E442"
BLUE, VERMILION, PURPLE = "#0072B2", "#D55E00", "#CC79A7"

DEFAULT_THEME = "hall"

THEMES = (
    Theme(
        "hall",
        primary=SKY,
        secondary=BLUE,
        accent=YELLOW,
        warning=ORANGE,
        error=VERMILION,
        success=GREEN,
        foreground="#e8e8e8",
        background="#101418",
        surface="#101418",
        panel="#1d242b",
        dark=True,
    ),
    Theme(
        "daylight",
        primary=BLUE,
        secondary=SKY,
        accent=PURPLE,
        warning="#8a5f00",
        error="#a84900",
        success="#00694d",
        foreground="#101418",
        background="#fafafa",
        surface="#fafafa",
        panel="#e6e9ec",
        dark=False,
    ),
    Theme(
        "high contrast",
        primary=YELLOW,
        secondary=SKY,
        accent=YELLOW,
        warning=ORANGE,
        error=ORANGE,
        success=SKY,
        foreground=WHITE,
        background=BLACK,
        surface=BLACK,
        panel="#262626",
        dark=True,
        text_alpha=1.0,
    ),
)

ROLES = frozenset(
    {"good", "bad", "warn", "quiet", "strong", "key", "accent", "one", "two", "three", "last", "entry"}
)


@lru_cache(maxsize=64)
def role_style(role: str, theme: str) -> Style:
    """Return the style of a role under a theme; an unknown role is plain."""
    colours = next((known for known in THEMES if known.name == theme), THEMES[0])
    return {
        "good": Style(color=colours.success),
        "bad": Style(color=colours.error, bold=True),
        "warn": Style(color=colours.warning),
        "quiet": Style(color="#9aa4ad" if colours.dark else "#59636b"),
        "strong": Style(bold=True),
        "key": Style(color=colours.primary, bold=True),
        "accent": Style(color=colours.primary),
        "one": Style(color=colours.primary),
        "two": Style(color=colours.warning),
        "three": Style(color=colours.success),
        "last": Style(color="#9aa4ad" if colours.dark else "#59636b"),
        "entry": Style(color=colours.accent, bold=True),
    }.get(role, Style())
