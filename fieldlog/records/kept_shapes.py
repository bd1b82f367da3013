"""The shape of the measures of a set and of the verdict on a check, as far as rooms read them.

More keys may stand there than are named here. Loaded when the first such body is read: the start of the
application needs none.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from fieldlog.records.terms import Direction

__all__ = ["Judged", "Measures"]

Number = float | None


class _Shape(BaseModel):
    # Numbers are numbers, never their text and never true or false.
    model_config = ConfigDict(frozen=True, strict=True, extra="ignore", allow_inf_nan=False)


class _Movement(_Shape):
    index: int
    direction: Direction
    mode: str
    start_s: Number
    end_s: Number
    start_deg: Number
    end_deg: Number
    range_deg: Number
    load_range_deg: Number
    load_range_share_pct: Number
    mean_speed_deg_s: Number
    peak_torque_nm: Number
    peak_torque_angle_deg: Number
    time_to_peak_s: Number
    work_j: Number
    load_range_work_j: Number
    mean_power_w: Number
    peak_power_w: Number
    impulse_nms: Number
    torque_at_nm: dict[str, Number]
    flags: list[str]


class _Figures(_Shape):
    movements: int
    best_peak_torque_nm: Number
    best_peak_torque_nm_kg: Number
    mean_peak_torque_nm: Number
    mean_best_three_nm: Number
    peak_torque_cv_pct: Number
    total_work_j: Number
    work_thirds_drop_pct: Number
    decline_pct: Number
    work_slope_j: Number


class _Set(_Shape):
    up: _Figures
    down: _Figures
    down_up_peak_ratio_pct: Number


class _Hold(_Shape):
    index: int
    direction: Direction
    angle_deg: Number
    peak_torque_nm: Number
    mean_torque_nm: Number
    onset_s: Number
    rtd_50_nm_s: Number
    rtd_100_nm_s: Number
    rtd_200_nm_s: Number
    flags: list[str]


class _Isometric(_Shape):
    holds: list[_Hold]
    rtd_cutoff_hz: Number


class _Recipe(_Shape):
    version: int
    cutoff_hz: Number
    band_pct: Number
    gravity: str


class _Weight(_Shape):
    cos_nm: float
    sin_nm: float
    offset_nm: float
    rms_nm: Number
    range_deg: Number
    up_down_difference_nm: Number
    separable: bool


class _Remark(_Shape):
    code: str
    level: Literal["note", "warning", "stop"]
    text: str


class Measures(_Shape):
    """What ``fieldlog trace`` prints."""

    file: str
    samples: int
    rate_hz: Number
    duration_s: Number
    mode: str
    set_speed_deg_s: Number
    recipe: _Recipe
    weight_torque: _Weight | None
    movements: list[_Movement]
    set: _Set
    isometric: _Isometric | None
    quality: list[_Remark]


class _Point(_Shape):
    mass_kg: float
    direction: Direction
    run: str
    reference_nm: float
    reading_nm: float
    error_nm: float
    error_pct: float
    tolerance_nm: float
    u_expanded_nm: float
    coverage_factor: float
    verdict: str
    undecidable: bool


class _Line(_Shape):
    slope: float
    intercept_nm: float
    u_slope: Number
    u_intercept_nm: Number
    correlation: Number
    residual_sd_nm: Number
    points: int


class _Lines(_Shape):
    up: _Line | None
    down: _Line | None


class _Torque(_Shape):
    points: list[_Point]
    lines: _Lines
    hysteresis_pct: Number
    verdict: str


class _Zero(_Shape):
    change_nm: float
    verdict: str


class _Side(_Shape):
    points: list[dict[str, float | str | bool]]
    verdict: str | None


class Judged(_Shape):
    """What ``fieldlog check`` prints."""

    rig: str
    stage: str
    state: str
    local_gravity_m_s2: float
    torque: _Torque
    zero: _Zero
    angle: _Side
    speed: _Side
    verdict: str
    remarks: list[str]
