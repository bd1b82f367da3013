"""Where to look when a rig check fails: which single slip would explain every error at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fieldlog.analysis.calibration import reference_torque
from fieldlog.fieldwork.rig_checks.check_point import PointJudgement
from fieldlog.records.check_entry import DIRECTIONS, CheckEntry, TorquePoint

__all__ = ["likely_causes"]

# An error this small a part of its tolerance is as good as none when a cause is looked for.
_UNREMARKABLE_SHARE = 1.0 / 3.0
# Two explanations this close in quality are both named.
_AS_GOOD = 1.05


@dataclass(frozen=True)
class _Slip:
    """One slip: how it would shift each point (times a common amount) and how to say it."""

    shape: tuple[float, ...]
    say: Callable[[float], str]


def likely_causes(entry: CheckEntry, judged: Sequence[PointJudgement]) -> list[str]:
    """Return sentences on the likely cause of a failed torque check, most likely first.

    Each possible slip (lever length or mass set: all by one percentage; tare: all by one torque; one mass;
    one direction; unloading; the first point) is fitted to all errors by weighted least squares. It is
    named where what remains of every error lies within its uncertainty or a third of its tolerance.
    """
    turned = _opposite_sign(entry, judged)
    if turned:
        return [turned]
    scale = [max(point.u_expanded_nm, _UNREMARKABLE_SHARE * point.tolerance_nm, 1e-9) for point in judged]
    errors = [point.error_nm for point in judged]
    found: list[tuple[float, str]] = []
    for slip in _slips(entry, judged):
        amount = _amount(errors, slip.shape, scale)
        left = [(e - amount * s) / u for e, s, u in zip(errors, slip.shape, scale, strict=True)]
        if max(abs(rest) for rest in left) <= 1.0:
            found.append((math.sqrt(sum(rest**2 for rest in left) / len(left)), slip.say(amount)))
    if not found:
        return ["no single cause explains the errors: check lever, masses and tare one by one, then repeat"]
    found.sort(key=lambda each: each[0])
    best = found[0][0]
    return [text for quality, text in found if quality <= _AS_GOOD * best + 0.01]


def _slips(entry: CheckEntry, judged: Sequence[PointJudgement]) -> list[_Slip]:
    points = entry.torque
    references = [point.reference_nm for point in judged]
    masses = sorted({point.mass_kg for point in points})
    directions = [d for d in DIRECTIONS if any(point.direction == d for point in points)]
    slips: list[_Slip] = []

    def add(
        applies: Callable[[int, TorquePoint], bool], by_reference: bool, say: Callable[[float], str]
    ) -> None:
        shape = tuple(
            (references[i] if by_reference else 1.0) if applies(i, point) else 0.0
            for i, point in enumerate(points)
        )
        slips.append(_Slip(shape, say))

    add(lambda _i, _p: True, True, lambda a: _all_by_percentage(entry, a))
    if len({round(reference, 6) for reference in references}) > 1:
        add(lambda _i, _p: True, False, lambda a: _all_by_torque(entry, a))
    else:
        slips.append(
            _Slip(
                tuple(1.0 for _ in points),
                lambda a: (
                    f"every point is off by {a:+.2f} N·m, all at one torque: tare, lever length or mass; "
                    "a second mass tells them apart"
                ),
            )
        )
    if len(directions) > 1:
        for direction in directions:
            add(_is_direction(direction), True, _one_direction_by_percentage(direction))
            add(_is_direction(direction), False, _one_direction_by_torque(direction))
    if len({point.run for point in points}) > 1:
        for by_reference in (True, False):
            add(
                lambda _i, point: point.run == "unloading",
                by_reference,
                lambda _a: "unloading only: the lever was not at rest, or did not come to rest from above",
            )
    if len(points) > 2:
        add(
            lambda i, _p: i == 0,
            False,
            lambda _a: "the first point only: preload the lever three times first",
        )
    if len(masses) > 1:
        for mass_kg in masses:
            add(_is_mass(mass_kg), True, _one_mass(mass_kg))
    return slips


def _is_direction(direction: str) -> Callable[[int, TorquePoint], bool]:
    return lambda _i, point: point.direction == direction


def _is_mass(mass_kg: float) -> Callable[[int, TorquePoint], bool]:
    return lambda _i, point: point.mass_kg == mass_kg


def _one_direction_by_percentage(direction: str) -> Callable[[float], str]:
    return lambda a: (
        f"one direction only: {direction} reads {100 * a:+.1f} %, the other is right; look at how the lever "
        f"was turned and at the rig's own {direction} adjustment"
    )


def _one_direction_by_torque(direction: str) -> Callable[[float], str]:
    return lambda a: (
        f"one direction only: {direction} is off by {a:+.2f} N·m; read the tare {direction} again"
    )


def _one_mass(mass_kg: float) -> Callable[[float], str]:
    return lambda a: (
        f"one mass only: the {mass_kg:g} kg one reads as {mass_kg * (1 + a):.2f} kg; "
        "look at its label, weigh it, or correct the entry"
    )


def _all_by_percentage(entry: CheckEntry, share: float) -> str:
    text = f"every point is off by one percentage, {100 * share:+.1f} %: look at the lever length or the mass set"
    arms = {point.arm_m for point in entry.torque}
    if len(arms) == 1:
        arm = arms.pop()
        text += f" (a lever of {arm * (1 + share):.3f} m instead of {arm:.3f} m would explain it)"
    return text


def _all_by_torque(entry: CheckEntry, amount: float) -> str:
    text = f"every point is off by one torque, {amount:+.2f} N·m: look at the tare"
    point = entry.torque[0]
    hanger = reference_torque(entry.hanger_kg, point.arm_m, point.arm_angle_deg)
    if hanger > 0.0 and abs(amount + hanger) < 0.2 * hanger:
        text += "; the hanger seems to be in the tare and in hanger_kg, it counts once only"
    return text


def _opposite_sign(entry: CheckEntry, judged: Sequence[PointJudgement]) -> str:
    turned = [
        i
        for i, (point, judgement) in enumerate(zip(entry.torque, judged, strict=True))
        if abs(point.reading_nm - entry.tare_nm(point.direction) + judgement.reference_nm)
        <= 0.25 * judgement.reference_nm
        and judgement.reference_nm > 2.0 * judgement.tolerance_nm
    ]
    if not turned:
        return ""
    named = ", ".join(f"torque[{i}]" for i in turned[:5]) + (" …" if len(turned) > 5 else "")
    return f"{named} reads with the opposite sign: readings count positive in the direction under test"


def _amount(errors: Sequence[float], shape: Sequence[float], scale: Sequence[float]) -> float:
    weight = [1.0 / u**2 for u in scale]
    across = sum(w * s * e for w, s, e in zip(weight, shape, errors, strict=True))
    return across / sum(w * s * s for w, s in zip(weight, shape, strict=True))
