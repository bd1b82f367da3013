"""Results, repetitions and rig checks of all sites as rows for an export."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fieldlog.fieldwork.books import everywhere, site_of
from fieldlog.fieldwork.results.holds import HOLD_FIGURES, efforts_in
from fieldlog.fieldwork.results.results import ResultBook, quality_word
from fieldlog.fieldwork.results.typed_set import TYPED
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["NOT_IN_ROWS", "check_rows", "repetition_rows", "result_rows"]

NOT_IN_ROWS = ("flags", "torque_at_nm", "angle_deg", "onset_s", "baseline_nm")
"""What is measured of a movement or hold and has no column of its own."""


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
            measured = {name: value for name, value in movement.items() if name not in NOT_IN_ROWS}
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


def _recipe_text(recipe: dict[str, Any]) -> str:
    if recipe.get(TYPED):
        return "typed, no recording"
    cutoff = recipe.get("cutoff_hz")
    filtered = f"{cutoff:g} Hz" if cutoff else "no filter"
    return f"v{recipe['version']}, {filtered}, band {recipe['band_pct']:g} %, weight {recipe['gravity']}"
