"""What a limb of a body weighs by the handbook, and which direction weight helps, from the shipped table."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import orjson

from fieldlog.fieldwork.catalogue import read_shipped

__all__ = ["handbook_range_nm", "helped_by_weight"]


def handbook_range_nm(region: str, body_mass_kg: float, lever_cm: float) -> tuple[float, float] | None:
    """Return the least and the greatest moment in N·m the horizontal limb of a region has by the handbook.

    The segment is not measured in the field: it is a known stretch longer than the lever, and the two
    ends of that stretch give the range. ``None`` for regions whose lever says nothing of the segment.
    """
    from fieldlog.analysis.limb_plausibility import segment_weight_nm

    known = _shipped()["regions"].get(region)
    if known is None or known["beyond_lever_cm"] is None:
        return None
    segment = _shipped()["segments"][known["segment"]]
    shortest, longest = (
        segment_weight_nm(
            body_mass_kg, segment["mass_share"], segment["centre_share"], (lever_cm + beyond) / 100.0
        )
        for beyond in known["beyond_lever_cm"]
    )
    return shortest, longest


def helped_by_weight(region: str) -> tuple[str, ...]:
    """Return the names of the directions that weight helps in a region, none where it depends on the position."""
    return tuple(_shipped()["regions"].get(region, {}).get("helped", ()))


@lru_cache(maxsize=1)
def _shipped() -> dict[str, Any]:
    body: dict[str, Any] = orjson.loads(read_shipped("body_segments.json"))
    return body
