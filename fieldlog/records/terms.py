"""The trade's words that more than one noun needs: direction, side, mode and region."""

from __future__ import annotations

from typing import Literal

__all__ = ["DIRECTIONS", "Direction", "Mode", "Region", "Side"]

Direction = Literal["up", "down"]
"""``up`` is towards larger angles, ``down`` towards smaller ones; a protocol has its own words for both."""
DIRECTIONS: tuple[Direction, ...] = ("up", "down")

Side = Literal["left", "right", "both"]
Mode = Literal["concentric", "eccentric", "isometric"]
Region = Literal["trunk", "knee", "shoulder", "ankle", "hip", "other"]
