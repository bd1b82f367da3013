"""What the rig itself may have to do with a change between two results."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from fieldlog.fieldwork.books import everywhere, of_team
from fieldlog.fieldwork.change.trials import Trial
from fieldlog.fieldwork.results.impact import error_change
from fieldlog.fieldwork.rig_checks.check_basis import (
    DEFAULT_UNCERTAINTIES,
    RECENT_CHECKS,
    Repeatability,
    pool_repeats,
    repeat_groups,
)
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import RigCheck
from fieldlog.store.workspace import Workspace

__all__ = ["NO_SHARE", "RigShare", "RigShares", "joined"]


@dataclass(frozen=True)
class RigShare:
    """The rig's part in a change, relative to the torque: two standard uncertainties, and how far it may reach.

    ``explains_pct`` is signed where the same rig was checked with the same masses: the change of its error
    with its uncertainty, in the direction it went; without a sign (two rigs) it reaches both ways.
    """

    u_first: float = 0.0
    u_second: float = 0.0
    explains_pct: float | None = None
    signed: bool = False

    @property
    def words(self) -> str:
        """The share as a sentence, or an empty text where nothing is known."""
        if self.explains_pct is None:
            return ""
        size = f"{abs(self.explains_pct):.1f} %"
        if self.signed:
            return f"the rig explains up to {'−' if self.explains_pct < 0 else '+'}{size}"
        return f"the rigs explain up to ±{size}"


NO_SHARE = RigShare()


def joined(shares: Sequence[RigShare]) -> RigShare:
    """The share in a figure made of several torques, such as a ratio: root sum of squares."""
    if len(shares) == 1:
        return shares[0]
    known = [share.explains_pct for share in shares if share.explains_pct is not None]
    return RigShare(
        math.hypot(*(share.u_first for share in shares)),
        math.hypot(*(share.u_second for share in shares)),
        math.hypot(*known) if known else None,
    )


class RigShares:
    """Reads the checks of the team's rigs once and tells what each may have to do with a change."""

    def __init__(self, workspace: Workspace) -> None:
        self.workspace = workspace
        self._repeatability: dict[str, Repeatability] = {}

    def between(self, now: Trial, before: Trial) -> RigShare:
        """The rig's part in the change from one result to the other.

        Same rig and same masses: what is common to both checks cancels, so repeatability and the change of
        the rig's error between the two opening checks remain; that change is not corrected, and so counts
        in full beside its own uncertainty. Different rigs or masses: both uncertainties in full.
        """
        torque_now, torque_before = now.result.peak_torque_nm, before.result.peak_torque_nm
        if not torque_now or not torque_before:
            return NO_SHARE
        if now.record.rig_id == before.record.rig_id:
            same = self._same_masses(now, before, (torque_now + torque_before) / 2.0)
            if same is not None:
                return same
        u_first = (before.result.cover.standard_uncertainty_nm or 0.0) / torque_before
        u_second = (now.result.cover.standard_uncertainty_nm or 0.0) / torque_now
        reach = 2.0 * math.hypot(u_first, u_second)
        return RigShare(u_first, u_second, 100.0 * reach if reach else None)

    def _same_masses(self, now: Trial, before: Trial, torque_nm: float) -> RigShare | None:
        checks = [self._checks.get(trial.result.cover.opening_id or "") for trial in (before, now)]
        first, second = checks
        if first is None or second is None or not _same_standards(first, second):
            return None
        if first.id == second.id:
            sd_nm = self._repeatability_of(first).sd_nm
            return RigShare(
                math.hypot(sd_nm, _decided_nm(before)) / torque_nm,
                math.hypot(sd_nm, _decided_nm(now)) / torque_nm,
            )
        change = error_change(
            first.judged,
            second.judged,
            direction=now.result.direction,
            torque_nm=torque_nm,
            resolution_nm=self._step_nm(second),
            repeatability=self._repeatability_of(second),
        )
        if change is None or change.beyond_checked_range:
            return None
        size = abs(change.change_nm) + change.u_expanded_nm
        return RigShare(
            u_first=math.hypot(change.u_expanded_nm / 2.0, _decided_nm(before)) / torque_nm,
            u_second=math.hypot(change.change_nm, _decided_nm(now)) / torque_nm,
            explains_pct=math.copysign(100.0 * size / torque_nm, change.change_nm),
            signed=True,
        )

    def _repeatability_of(self, check: RigCheck) -> Repeatability:
        """Repeated points pooled over the rig's latest checks up to this one."""
        if check.id not in self._repeatability:
            upto = sorted(
                (c for c in self._checks.values() if c.rig_id == check.rig_id and c.at <= check.at),
                key=lambda c: c.at,
            )
            groups = [group for c in upto[-RECENT_CHECKS - 1 :] for group in repeat_groups(c.entry)]
            self._repeatability[check.id] = pool_repeats(groups)
        return self._repeatability[check.id]

    def _step_nm(self, check: RigCheck) -> float:
        stated = check.entry.uncertainty.resolution_nm
        rig = self._rigs.get(check.rig_id)
        known = stated if stated is not None else rig.display_step_nm if rig else None
        return DEFAULT_UNCERTAINTIES["resolution_nm"] if known is None else known

    @cached_property
    def _checks(self) -> dict[str, RigCheck]:
        return {kept.record.id: kept.record for _, kept in everywhere(self.workspace, RigCheck)}

    @cached_property
    def _rigs(self) -> dict[str, Rig]:
        return {kept.record.id: kept.record for kept in of_team(self.workspace, Rig).all()}


def _decided_nm(trial: Trial) -> float:
    """What a release or correction of a suspect result adds to the rig's standard uncertainty, in N·m."""
    decision = trial.result.cover.decision
    return decision.standard_uncertainty_nm if decision else 0.0


def _same_standards(first: RigCheck, second: RigCheck) -> bool:
    """Whether both checks name the same standards; where one names none, equal loads are taken as the same."""
    one, other = set(first.entry.standards), set(second.entry.standards)
    return not one or not other or one == other
