"""What a sheet is about: one visit at one place, or a squad's season over all of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

from fieldlog.records.base import derived_id
from fieldlog.records.issued_sheet import SheetKind
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store

__all__ = ["SeasonSubject", "SheetKind", "SheetSubject", "Subject"]

LETTERS: dict[SheetKind | Literal["season"], str] = {
    "coach": "C",
    "athlete": "A",
    "rig": "R",
    "visit": "V",
    "season": "S",
}


@dataclass(frozen=True)
class SheetSubject:
    """What a sheet of a visit is about. ``named``: names of persons are printed instead of codes."""

    kind: SheetKind
    store: Store
    visit: Visit
    athlete_id: str | None = None
    rig_id: str | None = None
    named: bool = False

    @property
    def day(self) -> dt.date:
        """The day the sheet speaks of."""
        return self.visit.date

    @property
    def about(self) -> list[Any]:
        """What goes into the digest besides the sources."""
        return [self.kind, self.visit.date.isoformat(), self.named]

    @property
    def number(self) -> str:
        """The sheet's number, which follows from what it is about."""
        who = self.athlete_id or self.rig_id or ""
        names = "names" if self.named else ""
        tail = derived_id("sheet number", self.kind, self.visit.id, who, names)
        return f"{LETTERS[self.kind]}-{self.day:%Y%m%d}-{tail[:6]}"

    @property
    def marker(self) -> dict[str, Any]:
        """What the file's own mark says of it."""
        return {
            "kind": self.kind,
            "visit": self.visit.id,
            "athlete": self.athlete_id,
            "rig": self.rig_id,
            "named": self.named,
        }


@dataclass(frozen=True)
class SeasonSubject:
    """What a season sheet is about: a squad between two days. ``store`` is the team's."""

    store: Store
    squad: str
    first_day: dt.date
    last_day: dt.date
    named: bool = False
    kind: ClassVar[Literal["season"]] = "season"

    @property
    def day(self) -> dt.date:
        """The day the sheet speaks of."""
        return self.last_day

    @property
    def about(self) -> list[Any]:
        """What goes into the digest besides the sources."""
        return [self.kind, self.squad, self.first_day.isoformat(), self.last_day.isoformat(), self.named]

    @property
    def number(self) -> str:
        """The sheet's number, which follows from what it is about."""
        days = self.first_day.isoformat(), self.last_day.isoformat()
        tail = derived_id("sheet number", self.kind, self.squad, *days, "names" if self.named else "")
        return f"{LETTERS[self.kind]}-{self.day:%Y%m%d}-{tail[:6]}"

    @property
    def marker(self) -> dict[str, Any]:
        """What the file's own mark says of it."""
        return {
            "kind": self.kind,
            "squad": self.squad,
            "first_day": self.first_day.isoformat(),
            "last_day": self.last_day.isoformat(),
            "named": self.named,
        }


Subject = SheetSubject | SeasonSubject
