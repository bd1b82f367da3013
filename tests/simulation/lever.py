"""Where the lever of a rotary torque rig is, at any instant, in closed form.

A stroke is one movement from stop to stop at a set speed:

- ramp: half-cosine acceleration from rest to the set speed;
- caught: the limb runs ahead of the rig and is caught, a damped oscillation of the speed that
  starts at zero (so speed is continuous) and dies away during the constant part;
- constant part at the set speed, as long as the range needs;
- braking: half-cosine to rest.

A ``Motion`` is strokes and rests one after another. Angle, velocity and acceleration are exact
functions of time, so truth does not depend on a sampling rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stroke:
    """One movement of the lever from ``start_deg`` to ``end_deg`` at ``speed_deg_s`` (a magnitude).

    ``overshoot_share`` is the first, undamped swing of the speed above the set speed (0.1 = 10 %);
    it swings at ``overshoot_hz`` and dies away with the time constant ``overshoot_decay_s``.
    Raises ValueError where ramp and brake alone need more than the range.
    """

    start_deg: float
    end_deg: float
    speed_deg_s: float
    ramp_s: float = 0.10
    brake_s: float = 0.10
    overshoot_share: float = 0.0
    overshoot_hz: float = 8.0
    overshoot_decay_s: float = 0.05

    def __post_init__(self) -> None:
        if self.constant_s <= 0:
            raise ValueError(
                f"a stroke of {abs(self.end_deg - self.start_deg):g}° at {self.speed_deg_s:g}°/s has no room "
                "for a constant part between ramp and brake"
            )

    @property
    def direction(self) -> int:
        return 1 if self.end_deg > self.start_deg else -1

    @cached_property
    def constant_s(self) -> float:
        """Seconds between ramp and brake, such that the stroke ends exactly at ``end_deg``."""
        arc_deg = abs(self.end_deg - self.start_deg)
        constant_s = arc_deg / self.speed_deg_s - (self.ramp_s + self.brake_s) / 2
        for _ in range(60):  # a fixed point: what is left of the swing at its end is a small correction
            swung_s, left, _ = (float(value) for value in self._swing(np.array(constant_s)))
            constant_s = (
                arc_deg / self.speed_deg_s - self.ramp_s / 2 - swung_s - (1 + left) * self.brake_s / 2
            )
        return constant_s

    @property
    def duration_s(self) -> float:
        return self.ramp_s + self.constant_s + self.brake_s

    def _swing(self, t: Floats) -> tuple[Floats, Floats, Floats]:
        """Integral, value and derivative of the damped swing, as shares of the set speed, ``t`` s after the catch."""
        a, w = 1 / self.overshoot_decay_s, 2 * np.pi * self.overshoot_hz
        fade = self.overshoot_share * np.exp(-a * t)
        sine, cosine = np.sin(w * t), np.cos(w * t)
        integral = (self.overshoot_share * w - fade * (a * sine + w * cosine)) / (a * a + w * w)
        return integral, fade * sine, fade * (w * cosine - a * sine)

    def kinematics(self, t: Floats) -> tuple[Floats, Floats, Floats]:
        """Angle (deg), velocity (deg/s), acceleration (deg/s²) at ``t`` seconds after the stroke's start."""
        t = np.clip(np.asarray(t, float), 0.0, self.duration_s)
        braking_at_s = self.ramp_s + self.constant_s
        in_ramp, in_brake = t < self.ramp_s, t >= braking_at_s
        ramp_phase = np.pi * np.minimum(t, self.ramp_s) / self.ramp_s
        position = self.ramp_s / 2 * (ramp_phase - np.sin(ramp_phase)) / np.pi
        velocity = (1 - np.cos(ramp_phase)) / 2
        acceleration = np.where(in_ramp, np.pi / 2 / self.ramp_s * np.sin(ramp_phase), 0.0)

        caught_s = np.clip(t - self.ramp_s, 0.0, self.constant_s)
        swung, swing, swing_rate = self._swing(caught_s)
        position = position + caught_s + swung
        velocity = np.where(in_ramp, velocity, 1 + swing)
        acceleration = np.where(in_ramp | in_brake, acceleration, swing_rate)

        brake_phase = np.pi * np.clip(t - braking_at_s, 0.0, None) / self.brake_s
        entry = 1 + self._swing(np.array(self.constant_s))[1]
        position = position + entry * self.brake_s / 2 * (brake_phase + np.sin(brake_phase)) / np.pi
        velocity = np.where(in_brake, entry * (1 + np.cos(brake_phase)) / 2, velocity)
        acceleration = np.where(
            in_brake, -entry * np.pi / 2 / self.brake_s * np.sin(brake_phase), acceleration
        )

        scale = self.direction * self.speed_deg_s
        return self.start_deg + scale * position, scale * velocity, scale * acceleration


@dataclass(frozen=True)
class Rest:
    """The lever stands at ``angle_deg`` for ``duration_s``."""

    angle_deg: float
    duration_s: float

    def kinematics(self, t: Floats) -> tuple[Floats, Floats, Floats]:
        zeros = np.zeros_like(t)
        return zeros + self.angle_deg, zeros, zeros


@dataclass(frozen=True)
class Motion:
    """Strokes and rests one after another, from time zero."""

    parts: tuple[Stroke | Rest, ...]

    @cached_property
    def starts_s(self) -> tuple[float, ...]:
        """Start of each part, and the end of the last one as an extra entry."""
        return tuple(np.concatenate([[0.0], np.cumsum([part.duration_s for part in self.parts])]).tolist())

    @property
    def duration_s(self) -> float:
        return self.starts_s[-1]

    @property
    def strokes(self) -> tuple[tuple[float, Stroke], ...]:
        """Each stroke with its start time in seconds."""
        return tuple(
            (start_s, part)
            for start_s, part in zip(self.starts_s[:-1], self.parts, strict=True)
            if isinstance(part, Stroke)
        )

    def kinematics(self, time_s: Floats) -> tuple[Floats, Floats, Floats]:
        """Angle (deg), velocity (deg/s), acceleration (deg/s²) at each instant; before and after, the lever rests."""
        angle, velocity, acceleration = (np.empty_like(time_s) for _ in range(3))
        last = len(self.parts) - 1
        for index, (part, (start_s, end_s)) in enumerate(
            zip(self.parts, pairwise(self.starts_s), strict=True)
        ):
            inside = ((time_s >= start_s) | (index == 0)) & ((time_s < end_s) | (index == last))
            if inside.any():
                angle[inside], velocity[inside], acceleration[inside] = part.kinematics(
                    time_s[inside] - start_s
                )
        return angle, velocity, acceleration


def to_and_fro(
    low_deg: float,
    high_deg: float,
    speed_deg_s: float,
    *,
    repetitions: int,
    dwell_s: float = 0.3,
    lead_s: float = 1.0,
    up_first: bool = True,
    down_speed_deg_s: float | None = None,
    **stroke: float,
) -> Motion:
    """``repetitions`` times to the other end of the range and back, with a dwell at each end.

    ``lead_s`` seconds of rest stand before and after; ``stroke`` passes ramp, brake and overshoot on.
    """
    ends = (low_deg, high_deg) if up_first else (high_deg, low_deg)
    speeds = (speed_deg_s, down_speed_deg_s or speed_deg_s)
    if not up_first:
        speeds = speeds[::-1]
    parts: list[Stroke | Rest] = [Rest(ends[0], lead_s)]
    for repetition in range(repetitions):
        parts += [
            Stroke(*ends, speeds[0], **stroke),
            Rest(ends[1], dwell_s),
            Stroke(*ends[::-1], speeds[1], **stroke),
        ]
        parts.append(Rest(ends[0], dwell_s if repetition < repetitions - 1 else lead_s))
    return Motion(tuple(parts))


def stand(angle_deg: float, duration_s: float) -> Motion:
    """The lever locked at one angle, as for isometric holds and static weighing."""
    return Motion((Rest(angle_deg, duration_s),))


def stairs(angles_deg: Sequence[float], *, hold_s: float, speed_deg_s: float) -> Motion:
    """Rests at several angles, joined by slow strokes: isometric holds or static weighing at each."""
    parts: list[Stroke | Rest] = [Rest(angles_deg[0], hold_s)]
    for here, there in pairwise(angles_deg):
        parts += [Stroke(here, there, speed_deg_s), Rest(there, hold_s)]
    return Motion(tuple(parts))
