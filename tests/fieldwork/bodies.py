"""Measures and verdicts of the least that their shapes allow, for records whose figures do not matter."""

_FIGURES = {"movements": 0} | dict.fromkeys(
    (
        "best_peak_torque_nm",
        "best_peak_torque_nm_kg",
        "mean_peak_torque_nm",
        "mean_best_three_nm",
        "peak_torque_cv_pct",
        "total_work_j",
        "work_thirds_drop_pct",
        "decline_pct",
        "work_slope_j",
    )
)

NO_MEASURES = {
    "file": "x.csv",
    "samples": 0,
    "rate_hz": None,
    "duration_s": None,
    "mode": "concentric",
    "set_speed_deg_s": None,
    "recipe": {"version": 1, "cutoff_hz": None, "band_pct": None, "gravity": "none"},
    "weight_torque": None,
    "movements": [],
    "set": {"up": _FIGURES, "down": _FIGURES, "down_up_peak_ratio_pct": None},
    "isometric": None,
    "quality": [],
}


def judged(verdict):
    """A judged check with this verdict and no point."""
    return {
        "rig": "rig A",
        "stage": "interim",
        "state": "as-found",
        "local_gravity_m_s2": 9.81,
        "torque": {
            "points": [],
            "lines": {"up": None, "down": None},
            "hysteresis_pct": None,
            "verdict": verdict,
        },
        "zero": {"change_nm": 0.0, "verdict": "pass"},
        "angle": {"points": [], "verdict": None},
        "speed": {"points": [], "verdict": None},
        "verdict": verdict,
        "remarks": [],
    }
