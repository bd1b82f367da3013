"""From a scene to samples: what converters, encoders and a data logger add to the physics.

Order of the chain: instants (rate, jitter, drop-outs) → analogue noise → clipping → converter steps.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.simulation.recording import Scene

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Samples:
    """One recording as a rig hands it over: seconds, degrees, degrees a second, newton metre."""

    time_s: Floats
    angle_deg: Floats
    velocity_deg_s: Floats
    torque_nm: Floats


@dataclass(frozen=True)
class Acquisition:
    """The measuring chain of a rig; a step or noise of 0 switches that flaw off.

    ``jitter_share`` moves each sample by up to that share of the sample interval (uneven sampling,
    truly taken then); ``dropouts_s`` are (from, to) spans the logger lost; ``torque_limit_nm`` is the
    largest torque the chain can show; ``gain`` is a wrong slope of the torque channel (1 = right).
    """

    rate_hz: float = 1000.0
    seed: int = 0
    torque_noise_nm: float = 0.3
    torque_step_nm: float = 0.05
    torque_limit_nm: float | None = None
    angle_step_deg: float = 0.1
    velocity_noise_deg_s: float = 0.2
    velocity_step_deg_s: float = 0.1
    jitter_share: float = 0.0
    dropouts_s: tuple[tuple[float, float], ...] = ()
    gain: float = 1.0

    def sample(self, scene: Scene) -> Samples:
        """Sample the scene from its start to its end; the same seed gives the same samples."""
        # RandomState's stream is frozen by NumPy's policy; that of Generator methods may change.
        random = np.random.RandomState(self.seed)
        count = int(scene.motion.duration_s * self.rate_hz) + 1
        time_s = np.arange(count) / self.rate_hz
        if self.jitter_share:
            time_s = np.maximum(time_s + random.uniform(-1, 1, count) * self.jitter_share / self.rate_hz, 0.0)
        for lost_from_s, lost_to_s in self.dropouts_s:
            time_s = time_s[(time_s < lost_from_s) | (time_s > lost_to_s)]
        signals = scene.signals(time_s)
        torque = self.gain * signals.torque_nm + self.torque_noise_nm * random.standard_normal(len(time_s))
        velocity = signals.velocity_deg_s + self.velocity_noise_deg_s * random.standard_normal(len(time_s))
        if self.torque_limit_nm is not None:
            torque = np.clip(torque, -self.torque_limit_nm, self.torque_limit_nm)
        return Samples(
            time_s=time_s,
            angle_deg=_stepped(signals.angle_deg, self.angle_step_deg),
            velocity_deg_s=_stepped(velocity, self.velocity_step_deg_s),
            torque_nm=_stepped(torque, self.torque_step_nm),
        )


#: A chain without any flaw, for comparisons with closed forms.
PERFECT = Acquisition(
    torque_noise_nm=0.0,
    torque_step_nm=0.0,
    angle_step_deg=0.0,
    velocity_noise_deg_s=0.0,
    velocity_step_deg_s=0.0,
)


def perfect(rate_hz: float = 1000.0) -> Acquisition:
    """A flawless chain at another rate."""
    return replace(PERFECT, rate_hz=rate_hz)


def _stepped(values: Floats, step: float) -> Floats:
    return values if step == 0 else np.round(values / step) * step
