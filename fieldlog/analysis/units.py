"""Factors to SI-based units.

Exact by definition: 1 in = 0.0254 m, 1 ft = 0.3048 m, 1 lb = 0.453 592 37 kg (yard and pound agreement,
1959), standard gravity 9.806 65 m/s² (3rd CGPM, 1901).
"""

from __future__ import annotations

import math

from fieldlog.analysis.gravity import STANDARD_GRAVITY_M_S2

__all__ = ["DEG_PER_UNIT", "DEG_S_PER_UNIT", "KG_PER_UNIT", "M_PER_UNIT", "NM_PER_UNIT", "S_PER_UNIT"]

M_PER_UNIT = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048}
KG_PER_UNIT = {"kg": 1.0, "g": 0.001, "lb": 0.45359237}
_NEWTON_PER_LBF = KG_PER_UNIT["lb"] * STANDARD_GRAVITY_M_S2

S_PER_UNIT = {"s": 1.0, "ms": 0.001}
DEG_PER_UNIT = {"deg": 1.0, "rad": 180.0 / math.pi}
DEG_S_PER_UNIT = {"deg/s": 1.0, "rad/s": 180.0 / math.pi}
NM_PER_UNIT = {
    "nm": 1.0,
    "lbf_ft": _NEWTON_PER_LBF * M_PER_UNIT["ft"],
    "lbf_in": _NEWTON_PER_LBF * M_PER_UNIT["in"],
    "kgf_m": STANDARD_GRAVITY_M_S2,
}
