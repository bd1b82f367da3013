"""Rooms of one kind, of which each says some things itself; one that leaves any out is no room."""

from __future__ import annotations

from abc import ABCMeta

from textual.message_pump import _MessagePumpMeta

from fieldlog.screens.room import Room

__all__ = ["AbstractRoom"]


class _AbstractMeta(ABCMeta, _MessagePumpMeta):
    """Textual's own class of classes, which also refuses what leaves an abstract method out."""


class AbstractRoom(Room, metaclass=_AbstractMeta):
    """A room with abstract methods."""
