"""How times, speeds and sentences are written on every page."""

from __future__ import annotations

import datetime as dt

from fieldlog.records.site import Site

__all__ = ["clock_text", "place_text", "sentence", "speed_text"]


def sentence(text: str) -> str:
    """``text`` with a capital first letter and a full stop, where it has no sign of its own at the end."""
    begun = f"{text[:1].upper()}{text[1:]}"
    return begun if begun.endswith((".", "?", "!")) else f"{begun}."


def speed_text(speed_deg_s: float) -> str:
    """A set speed as ``60°/s``; standing still is ``held``."""
    return "held" if speed_deg_s == 0 else f"{speed_deg_s:g}°/s"


def place_text(site: Site) -> str:
    """A place with what its gravity follows from, as ``Boathouse; 60.2° N, 4 m above sea level``."""
    north = f"{abs(site.latitude_deg):.4f}".rstrip("0").rstrip(".")
    return (
        f"{site.name}; {north}° {'N' if site.latitude_deg >= 0 else 'S'}, {site.height_m:g} m above sea level"
    )


def clock_text(moment: dt.datetime) -> str:
    """A time of day at its place, as ``08:14``."""
    return f"{moment:%H:%M}"
