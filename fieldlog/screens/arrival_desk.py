"""What arrived in this session: what became a set, and what is on no set yet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldlog.fieldwork.results.arrived import Arrived
    from fieldlog.store.store import Store
    from fieldlog.store.workspace import Workspace

__all__ = ["ArrivalDesk", "Loose"]


@dataclass(frozen=True)
class Loose:
    """A recording on no set, and why not."""

    arrived: Arrived
    why: str


class ArrivalDesk:
    """Kept by the application, so that a recording taken from one athlete can be given to the next."""

    def __init__(self) -> None:
        self._taken: dict[str, tuple[Store, Arrived]] = {}
        self._loose: list[Loose] = []

    @property
    def at_hand(self) -> Loose | None:
        """The recording that arrived last of those on no set."""
        return self._loose[-1] if self._loose else None

    def took(self, store: Store, set_id: str, arrived: Arrived) -> None:
        """A recording became a set."""
        self._taken[set_id] = (store, arrived)
        self.lay_away(arrived)

    def lay_aside(self, arrived: Arrived, why: str) -> None:
        """A recording is on no set."""
        self.lay_away(arrived)
        self._loose.append(Loose(arrived, why))

    def lay_away(self, arrived: Arrived) -> None:
        """A recording is no longer waited with; its file stays where it is."""
        self._loose = [each for each in self._loose if each.arrived.path != arrived.path]

    def set_grown_from(self, arrived: Arrived) -> str | None:
        """The id of the set an earlier, shorter state of this file became."""
        return next(
            (set_id for set_id, (_, earlier) in self._taken.items() if arrived.grew_from(earlier)), None
        )

    def look(self, workspace: Workspace) -> None:
        """See what was undone since, which is on no set again, and what was given to a set by hand."""
        from fieldlog.fieldwork.books import at_site, everywhere
        from fieldlog.records.effort_set import EffortSet

        for loose in self._loose:
            if any(True for _ in everywhere(workspace, EffortSet, trace=loose.arrived.digest)):
                self.lay_away(loose.arrived)
        for set_id, (store, arrived) in list(self._taken.items()):
            if at_site(store, EffortSet).get(set_id) is None:
                del self._taken[set_id]
                if not any(True for _ in everywhere(workspace, EffortSet, trace=arrived.digest)):
                    self.lay_aside(arrived, "undone")
