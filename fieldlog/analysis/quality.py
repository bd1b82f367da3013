"""The codes of the verdict on a recording: the level of each, what it means in plain words, what to do about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

__all__ = ["Flagged", "Level", "Remark", "flag_remarks", "remark"]

Level = Literal["note", "warning", "stop"]

# code → (level, what it means, what to do). A stop means: do not use the figure.
_WORDS: dict[str, tuple[Level, str, str]] = {
    "typed": (
        "warning",
        "typed from the display, no recording: there is no curve, and filter, load range and weight are not known",
        "compare only with sets typed from the same display, and record where a file can be had",
    ),
    "clipped": (
        "stop",
        "the torque is cut off flat at its largest value, the true peak is higher",
        "raise the rig's torque limit and repeat the set",
    ),
    "dropped": ("note", "leading movement, listed but not counted", "nothing to do"),
    "left_out": ("note", "left out by hand, listed but not counted", "nothing to do"),
    "gap": (
        "warning",
        "samples are missing and were bridged by a straight line",
        "check the cable and repeat if the gap lies in the load range",
    ),
    "uneven_sampling": (
        "note",
        "the samples are unevenly spaced and were put on an even grid",
        "check the export settings of the rig",
    ),
    "low_rate": (
        "warning",
        "fewer than 100 samples a second, peaks and fast changes are blunted",
        "record at 100 Hz or more",
    ),
    "short_load_range": (
        "warning",
        "only a small part of the movement ran at the set speed",
        "use a larger range or a lower speed, and have the athlete push all the way",
    ),
    "no_load_range": (
        "warning",
        "the set speed was not held for 50 ms, so no torque is given",
        "check the set speed; have the athlete push harder from the start",
    ),
    "peak_at_edge": (
        "warning",
        "the peak lies at the end of the load range, well above the torque inside: a catch or a stop rather than the muscle",
        "have the athlete push smoothly, move the stops apart, or narrow the band",
    ),
    "overshoot": (
        "note",
        "the lever ran more than 10 % above the set speed before it was caught",
        "have the athlete take up the slack before pushing",
    ),
    "high_variation": (
        "warning",
        "the peaks of the repetitions differ by more than 15 %",
        "let the athlete rest and repeat the set with even, full efforts",
    ),
    "range_differs": (
        "warning",
        "less than 90 % of the usual range; not used for work and fatigue",
        "have the athlete go from stop to stop",
    ),
    "still_climbing": (
        "note",
        "the last repetition was the best and the peaks were still rising",
        "one more may show the true peak, where protocol, clearance and pain allow it",
    ),
    "pre_tension": (
        "warning",
        "the muscle was not at rest before (or the limb's weight not subtracted), so no rate of torque development is given",
        "let the athlete relax fully, weigh the limb, count down and repeat",
    ),
    "not_relaxed": (
        "stop",
        "the limb was not relaxed while it was weighed",
        "let it hang heavy, shake it loose and weigh again",
    ),
    "weight_extrapolated": (
        "warning",
        "the movement leaves the angles at which the limb was weighed by more than 5°; measures that need them are empty",
        "weigh the limb over the whole range",
    ),
    "gravity_missing": (
        "note",
        "no weight torque was subtracted; limb and lever are part of every torque",
        "weigh the limb, or compare only with recordings made the same way",
    ),
    "mode_differs": (
        "warning",
        "torque and motion say another mode than the one declared",
        "check the mode and the signs of angle and torque",
    ),
    "load_range_only": (
        "note",
        "the file holds only the load range, so work is that of the load range and not of the movement",
        "compare work only with recordings of the same kind",
    ),
    "implausible": (
        "warning",
        "a figure that no person and no rig produces",
        "check columns and units",
    ),
    "processing_unknown": (
        "warning",
        "the column map does not know what the rig did to the torque before",
        "find out from the rig's export settings; a correction made twice is a wrong number",
    ),
    "trunk_weighed": (
        "note",
        "the weight of the trunk was taken out, which is not the usual way",
        "compare only with visits where it was taken out too",
    ),
    "magnitude_torque": (
        "note",
        "the file gives torque without sign; the direction of the movement was taken",
        "record signed torque where the rig can",
    ),
}


@dataclass(frozen=True)
class Remark:
    """One entry of the verdict."""

    code: str
    level: Level
    text: str


class Flagged(Protocol):
    """Anything listed by number that carries flags."""

    @property
    def index(self) -> int: ...

    @property
    def flags(self) -> tuple[str, ...]: ...


def remark(
    code: str, where: str = "", *, seen: str = "", advice: str = "", level: Level | None = None
) -> Remark:
    """Return the remark of a code; ``where`` says which part, ``seen`` and ``advice`` replace the usual words.

    Raises KeyError for a code that has no words above.
    """
    usual_level, usual_seen, usual_advice = _WORDS[code]
    text = f"{seen or usual_seen}; {advice or usual_advice}"
    text = f"{where}: {text}" if where else text[0].upper() + text[1:]
    return Remark(code, level or usual_level, text + ".")


def flag_remarks(listed: Sequence[Flagged], noun: str) -> tuple[Remark, ...]:
    """Return one remark for each flag among these movements or holds, naming all that carry it."""
    places: dict[str, list[int]] = {}
    for item in listed:
        for flag in item.flags:
            places.setdefault(flag, []).append(item.index)
    return tuple(
        remark(code, f"{noun}{'s' if len(at) > 1 else ''} {_numbers(at)}") for code, at in places.items()
    )


def _numbers(indices: Iterable[int]) -> str:
    """1, 2, 3, 7 → ``1–3, 7``."""
    runs: list[list[int]] = []
    for index in indices:
        if runs and index == runs[-1][-1] + 1:
            runs[-1].append(index)
        else:
            runs.append([index])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)
