"""Do the masses reach what the athletes will push? A hint when the protocol is chosen, before anyone is strapped in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fieldlog.analysis.calibration import reference_torque
from fieldlog.fieldwork.results.cover import REACH_OVER_LARGEST, CheckFact, checked_range_nm
from fieldlog.fieldwork.results.holds import best_peak_nm
from fieldlog.fieldwork.rig_checks.checks import check_facts
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction, Protocol
from fieldlog.records.rig import Rig
from fieldlog.store.workspace import Workspace

__all__ = ["Reach", "mass_for", "reach_hint", "reach_of"]


@dataclass(frozen=True)
class Reach:
    """What a rig's latest full check speaks for, and what each athlete has shown under a protocol."""

    check: CheckFact | None
    names: Mapping[Direction, str]
    peaks_nm: Mapping[str, Mapping[Direction, float]]
    arm_m: float | None = None

    def hint(self, athlete_ids: Iterable[str]) -> str:
        """The hint for these athletes, or an empty text; who has no result yet says nothing."""
        if self.check is None:
            return ""
        expected: dict[Direction, float] = {}
        for athlete_id in athlete_ids:
            for direction, peak in self.peaks_nm.get(athlete_id, {}).items():
                expected[direction] = max(peak, expected.get(direction, 0.0))
        return reach_hint(expected, self.check, self.names, arm_m=self.arm_m)


def reach_hint(
    expected_nm: Mapping[Direction, float],
    check: CheckFact,
    direction_names: Mapping[Direction, str],
    *,
    arm_m: float | None = None,
) -> str:
    """Return in which direction the masses of a check cannot reach the expected torque, or an empty text.

    ``expected_nm`` is the largest torque expected by direction, ``direction_names`` the protocol's words.
    Reached is 1.2 × the largest checked reference, as for cover. With the lever ``arm_m`` the mass that would
    reach it is named.
    """
    said = []
    for direction, torque_nm in expected_nm.items():
        name = direction_names.get(direction, direction)
        covered = checked_range_nm(check, direction)
        if covered is None:
            said.append(f"{name} was not checked, so its results have no reference")
        elif torque_nm > covered[1]:
            more = f"; {mass_for(torque_nm, arm_m):.0f} kg in all would reach it" if arm_m else ""
            said.append(
                f"{name}: {torque_nm:.0f} N·m expected, the masses reach {covered[1]:.0f}, results above it are "
                f"beyond the checked range{more}"
            )
    return "; ".join(said)


def mass_for(torque_nm: float, arm_m: float) -> float:
    """Mass in kg on a level lever of ``arm_m`` that lets a check speak for ``torque_nm``, rounded up to 1 kg."""
    return float(-(-(torque_nm / REACH_OVER_LARGEST) // reference_torque(1.0, arm_m)))


def reach_of(workspace: Workspace, rig: Rig | None, protocol: Protocol) -> Reach:
    """Return the reach of a rig for a protocol by its latest check that was no interim one."""
    names = {direction: protocol.direction_name(direction) for direction in protocol.efforts}
    checks = check_facts(workspace, rig.id) if rig else []
    full = [check for check in checks if check.stage != "interim"]
    arm_m = max((lever.arm_m for lever in rig.levers), default=None) if rig else None
    return Reach(full[-1] if full else None, names, _peaks(workspace, protocol), arm_m)


def _peaks(workspace: Workspace, protocol: Protocol) -> dict[str, dict[Direction, float]]:
    """The largest recorded peak torque of each athlete, by direction; read as the sets lie, for there are many."""
    found: dict[str, dict[Direction, float]] = {}
    for store in workspace.sites.values():
        for revision in store.equal(EffortSet.table, ("protocol_id",), protocol.id):
            body = revision.body or {}
            for direction in protocol.efforts:
                peak_nm = _peak_nm(body, direction, protocol.efforts)
                if peak_nm is not None:
                    of_athlete = found.setdefault(str(body.get("athlete_id")), {})
                    of_athlete[direction] = max(of_athlete.get(direction, 0.0), peak_nm)
    return found


def _peak_nm(body: Mapping[str, Any], direction: Direction, efforts: Sequence[Direction]) -> float | None:
    return best_peak_nm(
        body.get("measures") or {},
        direction,
        efforts,
        left_out=[entry["index"] for entry in body.get("left_out") or ()],
        unsigned=(body.get("column_map") or {}).get("torque_sign") == "magnitude",
    )
