"""The ratio of a protocol's two directions: which stands above is the protocol's to say."""

from __future__ import annotations

from collections.abc import Mapping

from fieldlog.records.protocol import Direction, Protocol

__all__ = ["direction_ratio_pct"]


def direction_ratio_pct(protocol: Protocol, figures: Mapping[Direction, float | None]) -> float | None:
    """Return 100·numerator/denominator of a figure known by direction.

    None where the protocol forms no ratio or one of the two is missing or not above zero.
    """
    from fieldlog.analysis.ratios import ratio_pct

    if protocol.ratio_directions is None:
        return None
    numerator, denominator = (figures.get(direction) for direction in protocol.ratio_directions)
    if not numerator or not denominator or min(numerator, denominator) <= 0.0:
        return None
    return ratio_pct(numerator, denominator)
