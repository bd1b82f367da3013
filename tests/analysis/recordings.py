"""Small noiseless recordings for the tests of single measures: every figure can be worked out by hand."""

import numpy as np

from fieldlog.analysis.signals import motion_of
from fieldlog.analysis.trace import Trace

RATE_HZ = 1000


def box_motion(*stretches, rate_hz=RATE_HZ, start_deg=10.0):
    """Time, angle and velocity of (speed in °/s, seconds) stretches with speeds that change at once."""
    velocity = np.concatenate(
        [np.full(round(seconds * rate_hz), float(speed)) for speed, seconds in stretches]
    )
    steps = (velocity[1:] + velocity[:-1]) / 2 / rate_hz
    angle = start_deg + np.concatenate(([0.0], np.cumsum(steps)))
    return np.arange(velocity.size) / rate_hz, angle, velocity


def box_trace(*stretches, torque=0.0, rate_hz=RATE_HZ, start_deg=10.0):
    """A trace of such stretches; ``torque`` is a number or a function of time, angle and velocity."""
    time_s, angle, velocity = box_motion(*stretches, rate_hz=rate_hz, start_deg=start_deg)
    torque_nm = torque(time_s, angle, velocity) if callable(torque) else np.full(time_s.size, float(torque))
    return Trace(time_s, angle, torque_nm, velocity)


def motion(*stretches, torque=0.0, rate_hz=RATE_HZ, start_deg=10.0):
    trace = box_trace(*stretches, torque=torque, rate_hz=rate_hz, start_deg=start_deg)
    return motion_of(trace.time_s, trace.angle_deg, trace.torque_nm, trace.velocity_deg_s)
