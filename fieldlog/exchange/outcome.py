"""What a sync did, for people and for programs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

__all__ = ["Outcome", "Progress", "SyncReport"]

Progress = Callable[[str, int, int], None]
"""Called with what is being done, and how many files of how many are done. What it raises ends the sync."""


@dataclass(slots=True)
class Outcome:
    """What came and went for one store."""

    store: str
    label: str
    sent: int = 0
    received: int = 0
    conflicts: list[dict[str, Any]] = field(default_factory=list)
    missing: list[dict[str, str]] = field(default_factory=list)
    set_aside: list[dict[str, str]] = field(default_factory=list)

    def aside(self, file: str, text: str) -> None:
        self.set_aside.append({"site": self.label, "file": file, "text": text})

    def lacks(self, file: str, text: str, laptop: str = "") -> None:
        self.missing.append({"site": self.label, "file": file, "laptop": laptop, "text": text})


@dataclass(frozen=True, slots=True)
class SyncReport:
    """A whole sync: one outcome a store, the team's first, and what else is worth saying."""

    depot: str
    outcomes: tuple[Outcome, ...]
    notes: tuple[str, ...] = ()

    @property
    def conflicts(self) -> list[dict[str, Any]]:
        """The conflicts that are new with this sync."""
        return [conflict for outcome in self.outcomes for conflict in outcome.conflicts]

    def body(self) -> dict[str, Any]:
        """Return the report as ``fieldlog sync --json`` prints it. Numbers count files."""
        labels = Counter(outcome.label for outcome in self.outcomes)
        return {
            "sent": sum(outcome.sent for outcome in self.outcomes),
            "received": sum(outcome.received for outcome in self.outcomes),
            "by_site": {
                # Two sites may bear one name after a week apart.
                outcome.label if labels[outcome.label] == 1 else f"{outcome.label} ({outcome.store})": {
                    "sent": outcome.sent,
                    "received": outcome.received,
                }
                for outcome in self.outcomes
            },
            "conflicts": self.conflicts,
            "missing": [entry for outcome in self.outcomes for entry in outcome.missing],
            "set_aside": [entry for outcome in self.outcomes for entry in outcome.set_aside],
            # A path may hold bytes that are no text.
            "depot": self.depot.encode(errors="replace").decode(),
            "notes": list(self.notes),
        }
