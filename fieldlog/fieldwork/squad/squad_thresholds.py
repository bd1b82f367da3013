"""The team's own thresholds for ratios and side differences: kept, and asked of a score."""

from __future__ import annotations

from collections.abc import Iterable

from fieldlog.errors import InputError
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.change.trials import Score
from fieldlog.records.base import derived_id
from fieldlog.records.protocol import Direction
from fieldlog.records.squad_threshold import SquadThreshold
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = ["flag_of", "save_threshold", "take_away_threshold", "thresholds"]


def thresholds(workspace: Workspace) -> list[Kept[SquadThreshold]]:
    """Every threshold the team has set."""
    return of_team(workspace, SquadThreshold).all()


def save_threshold(
    workspace: Workspace, *, by: str, seen: Kept[SquadThreshold] | None = None, **fields: object
) -> Kept[SquadThreshold]:
    """Keep a threshold; there is one a measure, protocol and direction. One taken away may be set anew.

    Raises InputError naming the field that is wrong.
    """
    direction = fields.get("direction")
    identity = derived_id(
        "threshold", str(fields.get("measure")), str(fields.get("protocol_id")), str(direction or "")
    )
    threshold = SquadThreshold.from_body({"id": identity, **fields})
    repo = of_team(workspace, SquadThreshold)
    if seen is None and repo.get(identity) is not None:
        raise InputError("the team has a threshold for this already", "change that one")
    return repo.save(threshold, by=by, seen=seen.revision if seen else None)


def take_away_threshold(workspace: Workspace, kept: Kept[SquadThreshold], *, by: str, why: str = "") -> None:
    """Take a threshold away: nothing is flagged by it any more; what it was stays on record."""
    of_team(workspace, SquadThreshold).delete(kept.record.id, by=by, why=why, seen=kept.revision)


def flag_of(score: Score, known: Iterable[SquadThreshold]) -> str:
    """What the team's own threshold says of a score; an empty text where none is passed."""
    direction: Direction | None = score.line.direction if score.measure.of == "sides" else None
    for threshold in known:
        if (threshold.measure, threshold.protocol_id) != (score.measure.key, score.line.protocol_id):
            continue
        if threshold.direction not in (None, direction):
            continue
        size = abs(score.value) if score.measure.of == "sides" else score.value
        if threshold.high_pct is not None and size > threshold.high_pct:
            return f"above the team's {threshold.high_pct:g} %"
        if threshold.low_pct is not None and size < threshold.low_pct:
            return f"below the team's {threshold.low_pct:g} %"
    return ""
