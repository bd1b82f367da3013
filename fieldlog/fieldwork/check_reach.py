"""Do the masses reach what the athletes will push? A hint when the protocol is chosen, before anyone is strapped in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fieldlog.analysis.calibration import reference_torque
from fieldlog.fieldwork.books import everywhere, of_team
from fieldlog.fieldwork.checks import check_facts
from fieldlog.fieldwork.cover import CheckFact, checked_range_nm
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction, Protocol
from fieldlog.records.rig import Rig
from fieldlog.store.workspace import Workspace

__all__ = ["expected_peaks_nm", "mass_for", "reach_hint", "reach_of_protocol"]


def reach_hint(
    expected_nm: Mapping[Direction, float],
    check: CheckFact,
    direction_names: Mapping[Direction, str],
    *,
    arm_m: float | None = None,
) -> str:
    """Return in which direction the masses of a check cannot reach the expected torque, or an empty text.

    ``expected_nm`` is the largest torque expected by direction (``up``, ``down``), ``direction_names`` the
    protocol's words. Reached is 1.2 × the largest checked reference, as for cover. With the lever ``arm_m``
    the mass that would reach it is named.
    """
    said = []
    for direction, torque_nm in expected_nm.items():
        name = direction_names.get(direction, direction)
        covered = checked_range_nm(check, direction)
        if covered is None:
            said.append(f"{name} was not checked, so its results have no reference")
        elif torque_nm > covered[1]:
            more = f", hang {mass_for(torque_nm, arm_m):.0f} kg in all" if arm_m else ""
            said.append(
                f"{name} {torque_nm:.0f} N·m expected, the masses reach {covered[1]:.0f}: results above it will be "
                f"beyond the checked range{more}"
            )
    return "; ".join(said)


def mass_for(torque_nm: float, arm_m: float) -> float:
    """Mass in kg on a level lever of ``arm_m`` that lets a check speak for ``torque_nm``, rounded up to 1 kg."""
    needed_nm = torque_nm / 1.2
    return float(-(-needed_nm // reference_torque(1.0, arm_m)))


def expected_peaks_nm(
    workspace: Workspace, protocol: Protocol, athlete_ids: Iterable[str]
) -> dict[Direction, float]:
    """The largest peak torque these athletes ever showed under a protocol, by direction, in N·m.

    Athletes without a result say nothing; where nobody has one the answer is empty.
    """
    wanted = set(athlete_ids)
    largest: dict[Direction, float] = {}
    for _, kept in everywhere(workspace, EffortSet, protocol_id=protocol.id):
        if kept.record.athlete_id not in wanted:
            continue
        for direction in protocol.efforts:
            figures = (kept.record.measures.get("set") or {}).get(direction) or {}
            peak = figures.get("best_peak_torque_nm")
            if peak is not None:
                largest[direction] = max(largest.get(direction, 0.0), float(peak))
    return largest


def reach_of_protocol(
    workspace: Workspace, rig: Rig | None, protocol: Protocol, athlete_ids: Iterable[str]
) -> str:
    """Return the hint for a batch on a rig by its latest check, or an empty text."""
    if rig is None or of_team(workspace, Rig).get(rig.id) is None:
        return ""
    checks = check_facts(workspace, rig.id)
    if not checks:
        return ""
    names = {direction: protocol.direction_name(direction) for direction in protocol.efforts}
    full = [check for check in checks if check.stage != "interim"] or checks
    arm_m = max((lever.arm_m for lever in rig.levers), default=None)
    return reach_hint(expected_peaks_nm(workspace, protocol, athlete_ids), full[-1], names, arm_m=arm_m)
