"""What the torque sensor of the rig sees while a person works, and what is true behind it.

    recorded torque = muscle torque + weight torque − inertia · angular acceleration
                      − friction (against the movement) + stop impact + bursts

A ``Scene`` puts a motion of the lever, the efforts of a person and the weight of limb and lever
together. ``Scene.signals`` gives the noiseless signals at any instants, ``Scene.truth`` what an
analysis must find in each movement; ``acquisition`` turns the scene into samples.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tests.simulation.lever import Motion, Stroke
from tests.simulation.muscle import Muscle

Floats = NDArray[np.float64]
TRUTH_RATE_HZ = 4_000.0


@dataclass(frozen=True)
class Effort:
    """A muscle that pulls towards larger (``sign`` +1) or smaller angles (−1) during a stroke.

    Concentric where the stroke goes the same way, eccentric where the rig wins. ``rise_s`` and
    ``fall_s`` are half-cosine switching times at the stroke's ends; with 0 the muscle needs no switch
    (a torque curve that is zero at both ends).
    """

    muscle: Muscle
    sign: int
    rise_s: float = 0.0
    fall_s: float = 0.0

    def torque_nm(self, stroke: Stroke, t: Floats, angle_deg: Floats, velocity_deg_s: Floats) -> Floats:
        switched_on = np.ones_like(t)
        if self.rise_s:
            switched_on *= (1 - np.cos(np.pi * np.clip(t / self.rise_s, 0, 1))) / 2
        if self.fall_s:
            switched_on *= (1 - np.cos(np.pi * np.clip((stroke.duration_s - t) / self.fall_s, 0, 1))) / 2
        return self.sign * switched_on * self.muscle.torque_nm(angle_deg, self.sign * velocity_deg_s)


@dataclass(frozen=True)
class Hold:
    """An isometric effort: ``plateau · (1 − e^(−(t − onset)/τ))``, released at ``release_s`` with the same τ.

    The mean rate of torque development from onset over Δ seconds is plateau·(1 − e^(−Δ/τ))/Δ.
    ``tension_nm`` is torque held before the onset already.
    """

    onset_s: float
    release_s: float
    plateau_nm: float
    time_constant_s: float = 0.08
    sign: int = 1
    tension_nm: float = 0.0

    def torque_nm(self, time_s: Floats) -> Floats:
        since_onset, since_release = (
            np.maximum(time_s - start, 0.0) for start in (self.onset_s, self.release_s)
        )
        risen = 1 - np.exp(-since_onset / self.time_constant_s)
        left = np.exp(-since_release / self.time_constant_s)
        return self.sign * (self.tension_nm + (self.plateau_nm - self.tension_nm) * risen) * left

    def rate_nm_s(self, delta_s: float) -> float:
        """Mean rate of torque development from the onset over ``delta_s``, in N·m/s."""
        risen = (self.plateau_nm - self.tension_nm) * (1 - np.exp(-delta_s / self.time_constant_s))
        return float(risen / delta_s)


@dataclass(frozen=True)
class Weight:
    """Torque of limb and lever on the rig: ``cos·cos θ + sin·sin θ + offset`` in N·m."""

    cos_nm: float = 0.0
    sin_nm: float = 0.0
    offset_nm: float = 0.0

    def torque_nm(self, angle_deg: Floats) -> Floats:
        theta = np.radians(angle_deg)
        return self.cos_nm * np.cos(theta) + self.sin_nm * np.sin(theta) + self.offset_nm


@dataclass(frozen=True)
class Impact:
    """The end of a stroke against the stop: a ringing torque along the movement, damped within a tenth of a second."""

    peak_nm: float
    ring_hz: float = 18.0
    decay_s: float = 0.03

    def torque_nm(self, since_stop_s: Floats) -> Floats:
        t = np.maximum(since_stop_s, 0.0)
        return self.peak_nm * np.exp(-t / self.decay_s) * np.sin(2 * np.pi * self.ring_hz * t)


@dataclass(frozen=True)
class Burst:
    """A person who does not stay relaxed: one half-sine pulse of torque."""

    start_s: float
    duration_s: float
    torque_nm: float

    def at(self, time_s: Floats) -> Floats:
        share = (time_s - self.start_s) / self.duration_s
        return np.where((share > 0) & (share < 1), self.torque_nm * np.sin(np.pi * np.clip(share, 0, 1)), 0.0)


@dataclass(frozen=True)
class MovementTruth:
    """What is true of one movement; torques in the direction of the effort, so positive."""

    direction: str
    mode: str
    start_s: float
    end_s: float
    load_range_deg: tuple[float, float]
    peak_torque_nm: float
    peak_torque_angle_deg: float
    work_j: float
    load_range_work_j: float


@dataclass(frozen=True)
class Signals:
    """Noiseless signals at the instants ``time_s``; ``torque_nm`` is what a perfect sensor would report."""

    time_s: Floats
    angle_deg: Floats
    velocity_deg_s: Floats
    torque_nm: Floats
    muscle_nm: Floats


@dataclass(frozen=True)
class Scene:
    """One recording before it is sampled.

    ``efforts`` maps the stroke's direction (+1 up, −1 down) to the effort made in it; ``repetition_scale``
    scales the efforts repetition by repetition (a repetition is an up and a down stroke), the last value
    lasting; ``band_pct`` and the set speed of each stroke define the load range of the truth.
    """

    motion: Motion
    efforts: Mapping[int, Effort] = field(default_factory=dict)
    holds: tuple[Hold, ...] = ()
    weight: Weight = Weight()
    inertia_kg_m2: float = 0.0
    friction_nm: float = 0.0
    impact: Impact | None = None
    bursts: tuple[Burst, ...] = ()
    repetition_scale: tuple[float, ...] = (1.0,)
    band_pct: float = 5.0

    def signals(self, time_s: Floats) -> Signals:
        angle, velocity, acceleration = self.motion.kinematics(time_s)
        muscle = sum((hold.torque_nm(time_s) for hold in self.holds), start=np.zeros_like(time_s))
        torque = self.weight.torque_nm(angle) - self.inertia_kg_m2 * np.radians(acceleration)
        torque -= self.friction_nm * np.clip(velocity / 0.5, -1, 1)
        torque += sum((burst.at(time_s) for burst in self.bursts), start=np.zeros_like(time_s))
        for index, (start_s, stroke) in enumerate(self.motion.strokes):
            since_start_s = time_s - start_s
            inside = (since_start_s >= 0) & (since_start_s <= stroke.duration_s)
            effort = self.efforts.get(stroke.direction)
            if effort and inside.any():
                worked = effort.torque_nm(stroke, since_start_s[inside], angle[inside], velocity[inside])
                muscle[inside] += self._scale(index) * worked
            ringing = (since_start_s > stroke.duration_s) & (since_start_s < stroke.duration_s + 1.0)
            if self.impact and ringing.any():
                rung = self.impact.torque_nm(since_start_s[ringing] - stroke.duration_s)
                torque[ringing] += stroke.direction * rung
        return Signals(time_s, angle, velocity, torque + muscle, muscle)

    def truth(self) -> tuple[MovementTruth, ...]:
        """The measures of every stroke with an effort, from the noiseless signals at 4 kHz."""
        return tuple(
            self._movement_truth(start_s, stroke, self.efforts[stroke.direction])
            for start_s, stroke in self.motion.strokes
            if stroke.direction in self.efforts
        )

    def _scale(self, stroke_index: int) -> float:
        return self.repetition_scale[min(stroke_index // 2, len(self.repetition_scale) - 1)]

    def _movement_truth(self, start_s: float, stroke: Stroke, effort: Effort) -> MovementTruth:
        steps = round(stroke.duration_s * TRUTH_RATE_HZ)
        signals = self.signals(start_s + np.linspace(0.0, stroke.duration_s, steps + 1))
        torque = effort.sign * signals.muscle_nm
        first, last = self._load_range(signals, stroke.speed_deg_s)
        window = slice(first, last + 1)
        peak = first + int(np.argmax(torque[window]))
        radians = np.radians(np.abs(signals.angle_deg - stroke.start_deg))
        return MovementTruth(
            direction="up" if stroke.direction > 0 else "down",
            mode="concentric" if stroke.direction == effort.sign else "eccentric",
            start_s=start_s,
            end_s=start_s + stroke.duration_s,
            load_range_deg=(float(signals.angle_deg[first]), float(signals.angle_deg[last])),
            peak_torque_nm=float(torque[peak]),
            peak_torque_angle_deg=float(signals.angle_deg[peak]),
            work_j=float(np.trapezoid(torque, radians)),
            load_range_work_j=float(np.trapezoid(torque[window], radians[window])),
        )

    def _load_range(self, signals: Signals, set_speed_deg_s: float) -> tuple[int, int]:
        """First and last sample of the longest run at set speed, gaps of up to 50 ms closed."""
        tolerance = max(self.band_pct / 100 * set_speed_deg_s, 2.0)
        at_speed = np.flatnonzero(np.abs(np.abs(signals.velocity_deg_s) - set_speed_deg_s) <= tolerance)
        breaks = np.flatnonzero(np.diff(signals.time_s[at_speed]) > 0.050 + 1.5 / TRUTH_RATE_HZ)
        runs = np.split(at_speed, breaks + 1)
        longest = max(runs, key=len)
        return int(longest[0]), int(longest[-1])
