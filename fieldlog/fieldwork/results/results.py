"""Results: each counted figure of a set with its cover, its quality and what was decided of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from fieldlog.analysis.counting import counts
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import at_site, everywhere, of_team
from fieldlog.fieldwork.results.cover import Cover, cover_of, decided
from fieldlog.fieldwork.results.cover_decision import Decision
from fieldlog.fieldwork.results.holds import direction_figures, efforts_in
from fieldlog.fieldwork.rig_checks.checks import check_facts, event_facts
from fieldlog.records.athlete import Athlete
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction, Protocol
from fieldlog.records.review import Review
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "DirectionResult",
    "ResultBook",
    "quality_word",
    "scaled_figures",
]

# How the names of figures end that grow with the torque the rig showed.
_FOLLOW_TORQUE = ("_nm", "_nm_kg", "_nm_s", "_nms", "_j", "_w")


@dataclass(frozen=True)
class DirectionResult:
    """The figures of one set in one direction, with the cover of its best peak torque.

    A corrected result gives corrected figures; a withheld one gives none. The record keeps what was measured.
    """

    kept: Kept[EffortSet]
    direction: Direction
    figures: dict[str, Any]
    cover: Cover
    efforts: tuple[Direction, ...] = ("up", "down")

    @property
    def record(self) -> EffortSet:
        """The set."""
        return self.kept.record

    @property
    def movements(self) -> list[dict[str, Any]]:
        """Every movement or hold of this direction as it was recorded, the ones that do not count as well."""
        return [
            effort
            for effort in efforts_in(self.record, self.efforts)
            if effort["direction"] == self.direction
        ]

    @property
    def peak_torque_nm(self) -> float | None:
        """Best peak torque of the counted movements."""
        return self.figures.get("best_peak_torque_nm")

    @property
    def mean_power_w(self) -> float | None:
        """Total work of the counted movements over their time in motion, in W."""
        counted = [
            movement
            for movement in self.movements
            if movement["work_j"] is not None and counts(movement["flags"])
        ]
        time_s: float = sum(movement["end_s"] - movement["start_s"] for movement in counted)
        if time_s <= 0 or self.is_withheld:
            return None
        total_work_j: float = sum(movement["work_j"] for movement in counted)
        return self.factor * total_work_j / time_s

    @property
    def factor(self) -> float:
        """What a correction multiplies torque, work and power by."""
        return self.cover.decision.factor if self.cover.decision else 1.0

    @property
    def is_withheld(self) -> bool:
        """Whether the lead holds the figures back."""
        return self.cover.decision is not None and self.cover.decision.word == "withheld"

    @property
    def recorded_peak_nm(self) -> float | None:
        """Best peak torque as it was recorded, whatever was decided of it."""
        figures = direction_figures(self.record, self.direction, self.efforts) or {}
        value = figures.get("best_peak_torque_nm")
        return None if value is None else float(value)

    @property
    def best_movement(self) -> dict[str, Any] | None:
        """The counted movement or hold that holds the best peak torque."""
        if self.is_withheld:
            return None
        best = None
        for movement in self.movements:
            peak = movement["peak_torque_nm"]
            if peak is None or not counts(movement["flags"]):
                continue
            if best is None or peak > best["peak_torque_nm"]:
                best = movement
        return scaled_figures(best, self.factor) if best else None


class ResultBook:
    """Reads results of a workspace; checks and events of each rig are looked up once."""

    def __init__(self, workspace: Workspace) -> None:
        self.workspace = workspace
        self._facts: dict[str, tuple[list[Any], list[Any]]] = {}
        self._results: dict[str, list[DirectionResult]] = {}

    @cached_property
    def athletes(self) -> dict[str, Athlete]:
        """All athletes by id."""
        return {kept.record.id: kept.record for kept in of_team(self.workspace, Athlete).all()}

    def code(self, athlete_id: str) -> str:
        """An athlete's code, or the id where the athlete has not arrived on this laptop yet."""
        athlete = self.athletes.get(athlete_id)
        return athlete.code if athlete else athlete_id

    def protocol(self, protocol_id: str) -> Protocol:
        """The team's or the shipped protocol of this id."""
        return catalogue.protocol(self.workspace, protocol_id)

    def cover(self, record: EffortSet, direction: Direction, torque_nm: float | None) -> Cover:
        """Cover of one figure of a set."""
        if record.rig_id not in self._facts:
            self._facts[record.rig_id] = (
                check_facts(self.workspace, record.rig_id),
                event_facts(self.workspace, record.rig_id),
            )
        checks, events = self._facts[record.rig_id]
        cover = cover_of(record.at, direction, torque_nm, checks, events)
        review = self._reviews.get((record.id, direction, cover.closing_id or ""))
        if cover.word != "suspect" or review is None:
            return cover
        return decided(cover, _decision(review))

    @cached_property
    def _reviews(self) -> dict[tuple[str, str, str], Review]:
        """Decisions by set, direction and the failed check they were made under."""
        return {
            (kept.record.subject_id, kept.record.change.direction, kept.record.change.closing_id): kept.record
            for _, kept in everywhere(self.workspace, Review, subject_table="sets")
            if kept.record.change is not None
        }

    def of_set(self, kept: Kept[EffortSet]) -> list[DirectionResult]:
        """One result for each direction of the set in which movements or holds were found; worked out once."""
        if kept.revision.id not in self._results:
            self._results[kept.revision.id] = self._of_set(kept)
        return list(self._results[kept.revision.id])

    def _of_set(self, kept: Kept[EffortSet]) -> list[DirectionResult]:
        efforts = self.protocol(kept.record.protocol_id).efforts
        results = []
        for direction in efforts:
            figures = direction_figures(kept.record, direction, efforts)
            if figures and figures["movements"]:
                cover = self.cover(kept.record, direction, figures["best_peak_torque_nm"])
                shown = scaled_figures(figures, cover.decision.factor) if cover.decision else figures
                if cover.decision and cover.decision.word == "withheld":
                    shown = {name: value if name == "movements" else None for name, value in figures.items()}
                results.append(DirectionResult(kept, direction, shown, cover, efforts))
        return results

    def of_visit(self, store: Store, visit_id: str) -> list[DirectionResult]:
        """Results of the counted, cleared sets of a visit."""
        return [
            result
            for kept in at_site(store, EffortSet).find(visit_id=visit_id)
            if kept.record.standing == "counted" and not kept.record.without_clearance
            for result in self.of_set(kept)
        ]


def scaled_figures(figures: dict[str, Any], factor: float) -> dict[str, Any]:
    """Figures with torque, work, power and impulse multiplied by ``factor``; angles, times and shares stay."""
    if factor == 1.0:
        return figures
    return {
        name: factor * value
        if isinstance(value, float | int) and name.endswith(_FOLLOW_TORQUE) and not isinstance(value, bool)
        else {angle: None if torque is None else factor * torque for angle, torque in value.items()}
        if name == "torque_at_nm" and isinstance(value, dict)
        else value
        for name, value in figures.items()
    }


def quality_word(measures: dict[str, Any]) -> str:
    """The worst level of a set's quality notes: ``good``, ``note``, ``warning`` or ``stop``."""
    levels = {entry["level"] for entry in measures.get("quality", ())}
    return next((level for level in ("stop", "warning", "note") if level in levels), "good")


def _decision(review: Review) -> Decision:
    change = review.change
    assert change is not None
    return Decision(
        word=review.decision,
        by=review.by,
        remark=review.remark,
        torque_nm=change.torque_nm,
        change_nm=change.change_nm,
        u_expanded_nm=change.u_expanded_nm,
        factor=change.factor,
    )
