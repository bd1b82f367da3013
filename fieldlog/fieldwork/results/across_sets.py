"""What only several sets of an athlete's day give: dynamic control ratio, torque over speed, the weight's tell-tale."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from fieldlog.fieldwork.change.comparability import set_differences
from fieldlog.fieldwork.change.trials import weight_way
from fieldlog.fieldwork.recording.body_segments import helped_by_weight
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook, quality_word
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction, Protocol, Side
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

if TYPE_CHECKING:
    from fieldlog.analysis.quality import Remark
    from fieldlog.analysis.torque_speed import TorqueSpeed

__all__ = [
    "AcrossSets",
    "ControlRatio",
    "Peak",
    "SpeedCurve",
    "across_sets",
    "control_ratios",
    "speed_curves",
    "weight_tell_tales",
]

Words = Mapping[Direction, str]
FEWEST_SPEEDS = 3


@dataclass(frozen=True)
class Peak:
    """The best peak torque of a set in one direction of the lever; ``against`` says why it is not to be used."""

    record: EffortSet
    direction: Direction
    torque_nm: float
    against: str = ""

    @property
    def muscles(self) -> Direction:
        """The direction in which the muscles pull: against the lever where the set is eccentric."""
        if self.record.mode != "eccentric":
            return self.direction
        return "down" if self.direction == "up" else "up"

    @property
    def signed_speed_deg_s(self) -> float:
        """Speed in °/s, negative where the muscles give way."""
        return -self.record.speed_deg_s if self.record.mode == "eccentric" else self.record.speed_deg_s


@dataclass(frozen=True)
class ControlRatio:
    """Eccentric antagonist over concentric agonist at one speed; ``None`` where ``against`` says why not."""

    side: Side
    speed_deg_s: float
    name: str
    eccentric: Peak
    concentric: Peak
    ratio_pct: float | None
    against: str = ""


@dataclass(frozen=True)
class SpeedCurve:
    """Peak torques of the same muscles over speed, slowest first, eccentric speeds negative.

    ``curve`` goes through the usable points and never beyond them; ``None`` where ``against`` says why not.
    """

    side: Side
    name: str
    points: tuple[Peak, ...]
    curve: TorqueSpeed | None
    against: str = ""


@dataclass(frozen=True)
class AcrossSets:
    """All that the sets of one athlete, visit and setup plan give together."""

    plan_id: str
    control_ratios: tuple[ControlRatio, ...]
    speed_curves: tuple[SpeedCurve, ...]
    remarks: tuple[Remark, ...]


def across_sets(workspace: Workspace, store: Store, visit: Visit, athlete_id: str) -> tuple[AcrossSets, ...]:
    """Return what the counted sets of an athlete at a visit give together, one entry a setup plan.

    Figures are those of the day's results: corrected where the lead corrected them, none where withheld.
    """
    book = ResultBook(workspace)
    by_plan: dict[str, tuple[Protocol, list[Peak]]] = {}
    for result in book.of_visit(store, visit.id):
        if result.record.athlete_id == athlete_id and result.peak_torque_nm is not None:
            protocol = book.protocol(result.record.protocol_id)
            peaks = by_plan.setdefault(protocol.plan_id, (protocol, []))[1]
            peaks.append(Peak(result.record, result.direction, result.peak_torque_nm, _against(result)))
    found = []
    for plan_id, (protocol, peaks) in by_plan.items():
        words: Words = {"up": protocol.up_name, "down": protocol.down_name}
        found.append(
            AcrossSets(
                plan_id,
                control_ratios(peaks, words),
                speed_curves(peaks, words),
                weight_tell_tales(peaks, words, protocol.region),
            )
        )
    return tuple(found)


def control_ratios(peaks: Sequence[Peak], words: Words) -> tuple[ControlRatio, ...]:
    """Pair each eccentric peak with the concentric one of the same lever direction, side and speed.

    While the agonist moves the lever, the antagonist brakes it: both belong to one direction of the lever.
    A set of the same batch is preferred, then the latest. ``words`` names the directions.
    """
    from fieldlog.analysis.ratios import dynamic_control_ratio_pct

    ratios = []
    for eccentric in _in_order(peaks, "eccentric"):
        record = eccentric.record
        partners = [
            peak
            for peak in peaks
            if peak.record.mode == "concentric"
            and (peak.record.side, peak.record.speed_deg_s, peak.direction)
            == (record.side, record.speed_deg_s, eccentric.direction)
        ]
        if not partners:
            continue
        concentric = max(partners, key=lambda peak: (peak.record.batch_id == record.batch_id, peak.record.at))
        against = next(_reasons((eccentric, concentric)), "")
        ratio_pct = None
        if not against:
            try:
                ratio_pct = dynamic_control_ratio_pct(eccentric.torque_nm, concentric.torque_nm)
            except ValueError as error:
                against = str(error)
        name = f"{words[eccentric.muscles]} eccentric/{words[concentric.muscles]} concentric"
        ratios.append(
            ControlRatio(record.side, record.speed_deg_s, name, eccentric, concentric, ratio_pct, against)
        )
    return tuple(ratios)


def speed_curves(peaks: Sequence[Peak], words: Words) -> tuple[SpeedCurve, ...]:
    """Return torque over speed for each side and muscle group tested at three or more speeds.

    Holds are no part of it: they are taken at one angle only. Of two sets at one speed the latest stands.
    """
    from fieldlog.analysis.torque_speed import torque_over_speed

    curves = []
    for (side, muscles), group in _grouped(peaks):
        latest = {peak.signed_speed_deg_s: peak for peak in sorted(group, key=lambda peak: peak.record.at)}
        if len(latest) < FEWEST_SPEEDS:
            continue
        points = tuple(latest[speed] for speed in sorted(latest))
        usable = [peak for peak in points if not peak.against]
        curve, against = None, next(_reasons(usable), "")
        if len(usable) < FEWEST_SPEEDS:
            against = f"fewer than {FEWEST_SPEEDS} usable speeds: " + ", ".join(
                f"{peak.against} at {peak.signed_speed_deg_s:g}°/s" for peak in points if peak.against
            )
        elif not against:
            curve = torque_over_speed({peak.signed_speed_deg_s: peak.torque_nm for peak in usable})
        curves.append(SpeedCurve(side, words[muscles], points, curve, against))
    return tuple(curves)


def weight_tell_tales(peaks: Sequence[Peak], words: Words, region: str) -> tuple[Remark, ...]:
    """Return a note for each side where the helped direction gains on the hindered one from slow to fast.

    Muscle torque falls with speed and weight does not, so a ratio that climbs by more than 15 % points at
    weight that is still in the figures. Sets whose limb was weighed are not judged by it, nor regions in
    which the helped direction depends on the position.
    """
    from fieldlog.analysis.quality import remark
    from fieldlog.analysis.ratios import WEIGHT_TELL_TALE_PCT, weight_tell_tale_pct

    helped = next((way for way, word in words.items() if word in helped_by_weight(region)), None)
    if helped is None:
        return ()
    unweighed = [
        peak
        for peak in _in_order(peaks, "concentric")
        if weight_way(peak.record) not in ("weighed", "given") and not peak.against
    ]
    hindered: Direction = "down" if helped == "up" else "up"
    remarks = []
    for side in dict.fromkeys(peak.record.side for peak in unweighed):
        torques: dict[Direction, dict[float, float]] = {"up": {}, "down": {}}
        for peak in unweighed:
            if peak.record.side == side:
                torques[peak.direction][peak.record.speed_deg_s] = peak.torque_nm
        try:
            climb_pct = weight_tell_tale_pct(torques[helped], torques[hindered])
        except ValueError:  # a torque against the effort has no place in a ratio
            continue
        if climb_pct is not None and climb_pct > WEIGHT_TELL_TALE_PCT:
            shared = sorted(torques[helped].keys() & torques[hindered].keys())
            remarks.append(
                remark(
                    "gravity_missing",
                    "" if side == "both" else side,
                    seen=(
                        f"{words[helped]} over {words[hindered]} climbs {climb_pct:.0f} % from {shared[0]:g} to "
                        f"{shared[-1]:g}°/s, as it does when weight is still in the torques"
                    ),
                    advice="weigh the limb, or read neither direction against the other",
                    level="note",
                )
            )
    return tuple(remarks)


def _against(result: DirectionResult) -> str:
    if not result.cover.usable:
        return f"rig {result.cover.shown}"
    return "poor data" if quality_word(result.record.measures) == "stop" else ""


def _reasons(peaks: Sequence[Peak]) -> Iterator[str]:
    """Every reason against figures that were taken for one measure, the weightiest first."""
    yield from (peak.against for peak in peaks if peak.against)
    for other in peaks[1:]:
        if other.record.rig_id != peaks[0].record.rig_id:
            yield "on two rigs"
        yield from set_differences(peaks[0].record, other.record)


def _in_order(peaks: Sequence[Peak], mode: str) -> list[Peak]:
    return sorted(
        (peak for peak in peaks if peak.record.mode == mode),
        key=lambda peak: (peak.record.side, peak.record.speed_deg_s, peak.record.at, peak.direction),
    )


def _grouped(peaks: Sequence[Peak]) -> Iterator[tuple[tuple[Side, Direction], list[Peak]]]:
    def row(peak: Peak) -> tuple[Side, Direction]:
        return peak.record.side, peak.muscles

    moving = sorted((peak for peak in peaks if peak.record.mode != "isometric"), key=row)
    for key, group in groupby(moving, key=row):
        yield key, list(group)
