"""What a change of the rig does to squad means and ratios: said wherever released results are part of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fieldlog.fieldwork.results.results import DirectionResult
from fieldlog.records.protocol import Direction, Protocol

__all__ = ["mean_change_words", "ratio_change_words"]


def ratio_change_words(protocol: Protocol, by_direction: Mapping[Direction, DirectionResult]) -> str:
    """Return by how much the change of the rig moves the ratio of one set, or an empty text.

    Empty where neither direction was released under a failed check, or no ratio is formed.
    """
    if protocol.ratio_directions is None:
        return ""
    changes = {direction: _change_pct(result) for direction, result in by_direction.items()}
    numerator, denominator = (changes.get(direction) for direction in protocol.ratio_directions)
    if numerator is None and denominator is None:
        return ""
    moved = 100.0 * ((1.0 + (numerator or 0.0) / 100.0) / (1.0 + (denominator or 0.0) / 100.0) - 1.0)
    return f"{protocol.ratio_name}: the rig's change moves the ratio by up to {_signed(moved)} %"


def mean_change_words(protocol: Protocol, results: Sequence[DirectionResult]) -> tuple[str, ...]:
    """Return for each direction by how much released results may move the mean of the squad.

    The bound is the mean of all changes D, those of results that no failed check touches counting as zero.
    """
    said = []
    for direction in protocol.efforts:
        used = [
            result
            for result in results
            if result.direction == direction and result.peak_torque_nm is not None
        ]
        changes = [change for result in used if (change := _change_pct(result)) is not None]
        if not changes or len(used) < 2:
            continue
        low, high = min(changes), max(changes)
        span = _signed(low) if f"{low:.1f}" == f"{high:.1f}" else f"{_signed(low)} to {_signed(high)}"
        said.append(
            f"Squad mean, {protocol.direction_name(direction)}: {len(changes)} of {len(used)} results were released "
            f"after the rig had changed by {span} %; that may move the mean by up to {_signed(sum(changes) / len(used))} %."
        )
    return tuple(said)


def _change_pct(result: DirectionResult) -> float | None:
    decision = result.cover.decision
    return decision.change_pct if decision is not None and decision.word == "released" else None


def _signed(value: float) -> str:
    text = f"{abs(value):.1f}"
    return f"{'−' if value < 0 and float(text) else '+'}{text}"
