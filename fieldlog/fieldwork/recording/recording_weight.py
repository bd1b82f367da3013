"""The weight torque of a recording: from a sweep, given, or missing, and never subtracted twice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldlog.errors import InputError
from fieldlog.records.recipe import TraceOptions

if TYPE_CHECKING:
    from fieldlog.analysis.limb import WeightTorque
    from fieldlog.analysis.quality import Remark
    from fieldlog.fieldwork.recording.recording import Recording

__all__ = ["remarks_on_file", "weight_torque_of"]


def weight_torque_of(
    recording: Recording, options: TraceOptions, sweep: Recording | None
) -> tuple[WeightTorque | None, tuple[Remark, ...]]:
    """Return the weight torque to subtract, None where there is none, and what speaks against the weighing.

    Raises InputError where the limb would be counted twice, where torque has no sign, and where the sweep is none.
    """
    from fieldlog.analysis.limb import WeightTorque
    from fieldlog.analysis.limb_sweep import weigh_sweep

    if sweep is None and options.gravity_fit is None:
        return None, ()
    if sweep is not None and options.gravity_fit is not None:
        raise InputError("a sweep and given coefficients are both there", "use --gravity or --gravity-fit")
    if recording.already.weight_corrected == "yes":
        raise InputError(
            f"{recording.name}: already weight-corrected, the limb would be counted twice",
            "leave out the weighing, or set already.weight_corrected to no in the column map",
        )
    if recording.torque_is_magnitude:
        raise InputError(
            f"{recording.name}: torque is a magnitude, and a weight cannot be subtracted from a torque without sign",
            "record signed torque, or leave out the weighing",
        )
    if options.gravity_fit is not None:
        return WeightTorque(*options.gravity_fit), ()
    assert sweep is not None
    try:
        weighing = weigh_sweep(sweep.time_s, sweep.angle_deg, sweep.torque_nm, sweep.velocity_deg_s)
    except ValueError as error:
        raise InputError(f"{sweep.name}: {error}") from None
    return weighing.weight_torque, weighing.remarks


def remarks_on_file(recording: Recording, weight: WeightTorque | None) -> tuple[Remark, ...]:
    """Return what is to be said of a missing weight torque and of what was done to the file before."""
    from fieldlog.analysis.quality import remark

    already = recording.already
    remarks = []
    if weight is None and already.weight_corrected != "yes":
        remarks.append(
            remark("gravity_missing", level="warning" if already.weight_corrected == "unknown" else None)
        )
    if already.load_range_only == "yes":
        remarks.append(remark("load_range_only"))
    unknown = {
        "whether the weight torque was already subtracted": already.weight_corrected,
        "whether it was already filtered": already.filtered,
        "whether it holds only the load range": already.load_range_only,
    }
    for what, answer in unknown.items():
        if answer == "unknown":
            remarks.append(remark("processing_unknown", seen=f"the column map does not know {what}"))
    return tuple(remarks)
