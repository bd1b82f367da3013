"""Results: each counted figure with its cover and its quality, and the rows exports are made of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import at_site, everywhere, of_team, site_of
from fieldlog.fieldwork.results.cover import Cover, cover_of, decided
from fieldlog.fieldwork.results.cover_decision import Decision
from fieldlog.fieldwork.results.holds import HOLD_FIGURES, direction_figures, efforts_in
from fieldlog.fieldwork.results.typed_set import TYPED
from fieldlog.fieldwork.rig_checks.checks import check_facts, event_facts
from fieldlog.records.athlete import Athlete
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction, Protocol
from fieldlog.records.review import Review
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "DirectionResult",
    "ResultBook",
    "check_rows",
    "quality_word",
    "repetition_rows",
    "result_rows",
    "scaled_figures",
]

_NOT_IN_ROWS = ("flags", "torque_at_nm", "angle_deg", "onset_s", "baseline_nm")
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
            if movement["work_j"] is not None and not _is_out(movement)
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
            if peak is None or _is_out(movement):
                continue
            if best is None or peak > best["peak_torque_nm"]:
                best = movement
        return scaled_figures(best, self.factor) if best else None


class ResultBook:
    """Reads results of a workspace; checks and events of each rig are looked up once."""

    def __init__(self, workspace: Workspace) -> None:
        self.workspace = workspace
        self._facts: dict[str, tuple[list[Any], list[Any]]] = {}

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
        """One result for each direction of the set in which movements or holds were found."""
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


def result_rows(workspace: Workspace) -> Iterator[dict[str, Any]]:
    """One row a set and direction, over all sites, in the order of site, day, athlete and set."""
    book = ResultBook(workspace)
    for store, visit, kept in _sets_in_order(workspace, book):
        for result in book.of_set(kept):
            best = result.best_movement or {}
            yield {
                "site": site_of(store).name,
                "visit": visit.date.isoformat(),
                "athlete": book.code(kept.record.athlete_id),
                "protocol": kept.record.protocol_id,
                "set": kept.record.number,
                "direction": result.direction,
                "mode": kept.record.mode,
                "set_speed_deg_s": kept.record.measures["set_speed_deg_s"],
                "peak_torque_nm": result.peak_torque_nm,
                "peak_torque_angle_deg": best.get("peak_torque_angle_deg"),
                "work_j": result.figures["total_work_j"],
                "mean_power_w": result.mean_power_w,
                "peak_torque_cv_pct": result.figures["peak_torque_cv_pct"],
                "quality": quality_word(kept.record.measures),
                "cover": result.cover.word,
                "recipe": _recipe_text(kept.record.measures["recipe"]),
                "side": kept.record.side,
                "standing": kept.record.standing,
                "cover_remark": result.cover.remark,
                **{name: result.figures.get(name) for name in HOLD_FIGURES},
            }


def repetition_rows(workspace: Workspace) -> Iterator[dict[str, Any]]:
    """One row a movement or hold, with everything measured of it."""
    book = ResultBook(workspace)
    for store, visit, kept in _sets_in_order(workspace, book):
        for movement in efforts_in(kept.record, book.protocol(kept.record.protocol_id).efforts):
            measured = {name: value for name, value in movement.items() if name not in _NOT_IN_ROWS}
            yield {
                "site": site_of(store).name,
                "visit": visit.date.isoformat(),
                "athlete": book.code(kept.record.athlete_id),
                "side": kept.record.side,
                "protocol": kept.record.protocol_id,
                "set": kept.record.number,
                **measured,
                "flags": " ".join(movement["flags"]),
            }


def check_rows(workspace: Workspace) -> Iterator[dict[str, Any]]:
    """One row a rig check, in order of time."""
    checks = sorted(everywhere(workspace, RigCheck), key=lambda pair: (pair[1].record.at, pair[1].record.id))
    for store, kept in checks:
        check = kept.record
        lines = check.judged["torque"]["lines"]
        row: dict[str, Any] = {
            "site": site_of(store).name,
            "at": check.at.isoformat(),
            "rig": check.entry.rig,
            "stage": check.stage,
            "state": check.state,
            "verdict": check.verdict,
            "points": len(check.judged["torque"]["points"]),
            "hysteresis_pct": check.judged["torque"]["hysteresis_pct"],
            "zero_change_nm": check.judged["zero"]["change_nm"],
            "local_gravity_m_s2": check.judged["local_gravity_m_s2"],
        }
        for direction in ("up", "down"):
            line = lines.get(direction) or {}
            row[f"{direction}_slope"] = line.get("slope")
            row[f"{direction}_intercept_nm"] = line.get("intercept_nm")
        row["remarks"] = "; ".join(check.judged["remarks"])
        yield row


def _sets_in_order(workspace: Workspace, book: ResultBook) -> list[tuple[Store, Visit, Kept[EffortSet]]]:
    visits = {kept.record.id: kept.record for _, kept in everywhere(workspace, Visit)}
    found = [
        (store, visits[kept.record.visit_id], kept)
        for store, kept in everywhere(workspace, EffortSet)
        if kept.record.visit_id in visits
    ]
    return sorted(
        found,
        key=lambda item: (
            site_of(item[0]).name,
            item[1].date,
            book.code(item[2].record.athlete_id),
            item[2].record.at,
            item[2].record.number,
        ),
    )


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


def _is_out(movement: dict[str, Any]) -> bool:
    return bool({"dropped", "left_out"} & set(movement["flags"]))


def _recipe_text(recipe: dict[str, Any]) -> str:
    if recipe.get(TYPED):
        return "typed, no recording"
    cutoff = recipe.get("cutoff_hz")
    filtered = f"{cutoff:g} Hz" if cutoff else "no filter"
    return f"v{recipe['version']}, {filtered}, band {recipe['band_pct']:g} %, weight {recipe['gravity']}"
