"""What a verdict must say besides its words: what was missing, doubtful, or the likely cause."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence

from fieldlog.fieldwork.rig_checks.check_basis import Basis
from fieldlog.fieldwork.rig_checks.check_cause import likely_causes
from fieldlog.fieldwork.rig_checks.check_point import PointJudgement, is_undecidable
from fieldlog.records.check_entry import DIRECTIONS, CheckEntry, Place
from fieldlog.records.rig import Rig
from fieldlog.records.standard import ReferenceStandard
from fieldlog.records.tolerance import Tolerances

__all__ = ["remarks_on", "standards_used"]

DEFAULT_WARM_UP_MINUTES = 20.0


def remarks_on(
    entry: CheckEntry,
    judged: Sequence[PointJudgement],
    basis: Basis,
    *,
    site_place: Place | None,
    standards: Sequence[ReferenceStandard],
    rig: Rig | None,
    today: dt.date | None,
    torque_failed: bool,
    zero_failed: bool,
) -> list[str]:
    """Return the remarks on a judged check, what weighs most first."""
    remarks: list[str] = []
    if torque_failed:
        remarks += [f"likely cause: {cause}" for cause in likely_causes(entry, judged)]
    if zero_failed:
        remarks.append(
            "the zero moved during the check: let the rig warm up, see that nothing touches the lever, repeat"
        )
    remarks += _on_undecidable(entry, judged, basis)
    remarks += _on_directions(entry)
    remarks += _on_place(entry, site_place)
    remarks += _on_standards(entry, standards)
    if basis.defaults_used:
        remarks.append(f"default uncertainty used (common practice): {', '.join(basis.defaults_used)}")
    remarks += _on_warm_up(entry, rig)
    if today is not None and entry.at.date() > today:
        remarks.append(f"dated {entry.at.date()}, after today ({today}): look at the clock that wrote it")
    if isinstance(entry.tolerance, Tolerances):
        left_out = sorted(set(Tolerances.model_fields) - entry.tolerance.model_fields_set)
        if left_out:
            remarks.append(f"tolerance not given, taken from the field set: {', '.join(left_out)}")
    if entry.hanger_kg > 0.0 and entry.tare is not None:
        remarks.append(
            f"hanger_kg {entry.hanger_kg:g} is added to every mass: right only if the tare was read without it"
        )
    return remarks


def standards_used(entry: CheckEntry, standards: Sequence[ReferenceStandard]) -> list[ReferenceStandard]:
    """Return the standards the check names by id or name; where it names none, those that fit what was hung.

    A mass or lever fits by its nominal value, an inclinometer or timer where angle or speed was checked.
    """
    if entry.standards:
        return [each for each in standards if each.id in entry.standards or each.name in entry.standards]
    masses = {point.mass_kg for point in entry.torque}
    arms = {point.arm_m for point in entry.torque}
    fits: dict[str, Callable[[float], bool]] = {
        "mass": lambda nominal: any(abs(nominal - mass) <= 0.01 * mass for mass in masses),
        "lever": lambda nominal: any(abs(nominal - arm) <= 0.001 for arm in arms),
        "inclinometer": lambda _nominal: bool(entry.angle),
        "timer": lambda _nominal: bool(entry.speed),
    }
    return [each for each in standards if fits[each.kind](each.nominal)]


def _on_undecidable(entry: CheckEntry, judged: Sequence[PointJudgement], basis: Basis) -> list[str]:
    remarks = []
    count = sum(point.undecidable for point in judged)
    if count:
        named = "the only point" if len(judged) == 1 else f"{count} of {len(judged)} points"
        remarks.append(
            f"undecidable: at {named} the uncertainty is too large for the tolerance; "
            "use certified masses, a longer or better measured lever, or a finer display"
        )
    u_angle = 2.0 * basis.angle_reference_deg
    if entry.angle and is_undecidable(u_angle, basis.limits.angle_deg, basis.decision):
        remarks.append("undecidable: the inclinometer is too uncertain for the angle tolerance")
    if any(
        is_undecidable(
            2.0 * basis.speed_reference_rel * abs(point.reference_deg_s),
            basis.limits.speed_deg_s(point.reference_deg_s),
            basis.decision,
        )
        for point in entry.speed
    ):
        remarks.append("undecidable: the timing is too uncertain for the speed tolerance")
    return remarks


def _on_directions(entry: CheckEntry) -> list[str]:
    used = [d for d in DIRECTIONS if any(point.direction == d for point in entry.torque)]
    if len(used) == 1:
        other = "down" if used == ["up"] else "up"
        return [f"only {used[0]} was checked; results {other} have no reference"]
    remarks = []
    if entry.tare is None:
        remarks.append("zero not read per side: both directions use the same one")
    readings: dict[tuple[float, float, float, str], dict[str, list[float]]] = {}
    for point in entry.torque:
        load = (point.mass_kg, point.arm_m, point.arm_angle_deg, point.run)
        readings.setdefault(load, {}).setdefault(point.direction, []).append(point.reading_nm)
    both = [sides for sides in readings.values() if len(sides) == 2]
    if len(both) > 1 and all(sides["up"] == sides["down"] for sides in both):
        remarks.append("up and down read exactly alike at every mass: was the lever really turned?")
    return remarks


def _on_place(entry: CheckEntry, site_place: Place | None) -> list[str]:
    if entry.place is None and site_place is None:
        return [
            (
                "no place given: standard gravity 9.80665 m/s² used with 0.16 % uncertainty; "
                "add place with latitude_deg and height_m"
            )
        ]
    if entry.place is not None and site_place is not None and entry.place != site_place:
        return ["the place of the check differs from the site's; the check's own was used"]
    return []


def _on_standards(entry: CheckEntry, standards: Sequence[ReferenceStandard]) -> list[str]:
    remarks = []
    day = entry.at.date()
    for standard in standards_used(entry, standards):
        if standard.certificate is None:
            taken = (
                f"the limit of class {standard.mass_class}" if standard.mass_class else "a wide uncertainty"
            )
            what = (
                f"; {taken} was used" if standard.kind == "mass" and not standard.standard_uncertainty else ""
            )
            remarks.append(f"missing certificate: {standard.name}{what}")
        elif standard.certificate.due_on is not None and standard.certificate.due_on < day:
            days = (day - standard.certificate.due_on).days
            remarks.append(f"overdue certificate: {standard.name}, by {days} day{'s' if days != 1 else ''}")
    known = {standard.id for standard in standards} | {standard.name for standard in standards}
    remarks += [
        f"missing certificate: {name} is no standard the team has on record"
        for name in entry.standards
        if name not in known
    ]
    if not entry.standards and not standards_used(entry, standards) and entry.uncertainty.mass_rel is None:
        remarks.append("missing certificate: no reference standard is named and no mass uncertainty stated")
    return remarks


def _on_warm_up(entry: CheckEntry, rig: Rig | None) -> list[str]:
    powered_on_at = entry.conditions.powered_on_at if entry.conditions else None
    if powered_on_at is None:
        return []
    needed = dt.timedelta(minutes=rig.warm_up_minutes if rig else DEFAULT_WARM_UP_MINUTES)
    on_for = entry.at - powered_on_at
    if on_for >= needed:
        return []
    return [
        (
            f"warm-up too short: on for {on_for.total_seconds() / 60:.0f} min, "
            f"{needed.total_seconds() / 60:.0f} are needed; the zero may still move"
        )
    ]
