"""Comparing the weight of a limb with what it was, with the other side, and with a body of that size.

An evenly tensed limb passes every check inside one sweep; only a comparison tells.
"""

from __future__ import annotations

import numpy as np

from fieldlog.analysis.gravity import STANDARD_GRAVITY_M_S2
from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.quality import Remark, remark

__all__ = ["compare_weights_pct", "segment_weight_nm", "weight_remarks"]

_LAST_VISIT_PCT = 15.0
_OTHER_SIDE_PCT = 20.0
_HANDBOOK_LOWEST, _HANDBOOK_HIGHEST = 0.6, 1.5


def segment_weight_nm(
    body_mass_kg: float,
    mass_share: float,
    centre_share: float,
    length_m: float,
    *,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> float:
    """Return the moment in N·m of a horizontal body segment about its proximal joint.

    m·g·c·L with m = ``mass_share`` of the body mass and c = ``centre_share`` of the segment length, as
    in Winter (2009), Biomechanics and Motor Control of Human Movement, 4th ed., table 4.1.
    Raises ValueError for a body mass or length that is not above 0.
    """
    if not body_mass_kg > 0.0 or not length_m > 0.0:
        raise ValueError("body mass and segment length must be above 0")
    return body_mass_kg * mass_share * gravity_m_s2 * centre_share * length_m


def compare_weights_pct(now: WeightTorque, before: WeightTorque) -> float:
    """Return by how many percent the weight has changed: amplitudes, or curves where those mean nothing.

    Where cosine and offset cannot be told apart the sizes of the curves over the shared angles are
    compared. Raises ValueError where the earlier weight is 0 or no angles are shared.
    """
    if now.separable and before.separable:
        size_now, size_before = now.amplitude_nm, before.amplitude_nm
    else:
        lowest = max(_or(now.lowest_deg, -180.0), _or(before.lowest_deg, -180.0))
        highest = min(_or(now.highest_deg, 180.0), _or(before.highest_deg, 180.0))
        if lowest >= highest:
            raise ValueError("the limb was weighed at other angles; the weights cannot be compared")
        shared = np.linspace(lowest, highest, 50)
        size_now, size_before = (float(np.abs(weight.at(shared)).mean()) for weight in (now, before))
    if size_before == 0.0:
        raise ValueError("the earlier weight torque is 0")
    return 100.0 * (size_now - size_before) / size_before


def weight_remarks(
    now: WeightTorque,
    *,
    last_visit: WeightTorque | None = None,
    other_side: WeightTorque | None = None,
    handbook_nm: float | None = None,
) -> tuple[Remark, ...]:
    """Return what speaks against a weight torque when it is compared with the outside.

    ``handbook_nm`` is the moment of the horizontal segment from a segment table. Warned of: more than
    15 % from the last visit, 20 % from the other side, outside 0.6 to 1.5 times the handbook (common practice).
    """
    remarks = []
    for before, limit_pct, whose in (
        (last_visit, _LAST_VISIT_PCT, "at the last visit"),
        (other_side, _OTHER_SIDE_PCT, "on the other side"),
    ):
        if before is not None:
            change_pct = compare_weights_pct(now, before)
            if abs(change_pct) > limit_pct:
                word = "more" if change_pct > 0.0 else "less"
                remarks.append(_warn(f"the limb weighs {abs(change_pct):.0f} % {word} than {whose}"))
    if handbook_nm is not None and now.separable:
        share = now.amplitude_nm / handbook_nm
        if not _HANDBOOK_LOWEST <= share <= _HANDBOOK_HIGHEST:
            remarks.append(_warn(f"the limb weighs {share:.1f} times what a body of this size has"))
    return tuple(remarks)


def _warn(seen: str) -> Remark:
    return remark(
        "not_relaxed",
        seen=f"{seen}; it may have been tensed evenly while it was weighed",
        advice="let it hang heavy, check pad and lever, and weigh again",
        level="warning",
    )


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
