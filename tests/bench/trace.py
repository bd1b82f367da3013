"""What the analysis of recordings costs, beside the bare pipeline without any check.

The bare pipeline: ``numpy.loadtxt``, SciPy's zero-lag filter, one trapezoid. Memory: a batch of 240
recordings beside one of 24, each in a process of its own.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from scipy.signal import butter, filtfilt

from fieldlog.fieldwork.recording.recording import analyse_recording, read_recording
from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import to_and_fro
from tests.simulation.muscle import HalfSine
from tests.simulation.recording import Effort, Scene
from tests.simulation.writers import own_columns

__all__ = ["rows"]

COST_GOAL = 1.3
MEMORY_GOAL = 1.1
SETS = 240
ROUNDS = 40

_BATCH = """
import resource, sys
from pathlib import Path
from fieldlog.fieldwork.recording.recording import analyse_batch
path, count = Path(sys.argv[1]), int(sys.argv[2])
done = sum(1 for _ in analyse_batch((f"set {number}", path) for number in range(count)))
assert done == count
# On Linux ru_maxrss also counts the process that started this one, VmHWM does not.
status = Path("/proc/self/status")
peaks = [line.split()[1] for line in status.read_text().splitlines() if line.startswith("VmHWM")] if status.exists() else []
print(peaks[0] if peaks else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def rows() -> list[dict[str, Any]]:
    """One row for the cost of a set from file to measures, one for the memory of a batch."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "set.csv"
        path.write_text(_one_minute(), encoding="utf-8")
        return [_cost(path), _memory(path)]


def _one_minute() -> str:
    efforts = {1: Effort(HalfSine(180, 0, 100), 1, 0.1, 0.1), -1: Effort(HalfSine(110, 0, 100), -1, 0.1, 0.1)}
    motion = to_and_fro(5, 95, 60, repetitions=16, dwell_s=0.22)
    return own_columns(Acquisition().sample(Scene(motion, efforts)))


def _bare(path: Path) -> float:
    table = np.loadtxt(path, delimiter=",", skiprows=1)
    smooth = filtfilt(*butter(2, 15 / 500), table[:, 3])
    return float(np.trapezoid(smooth, np.radians(table[:, 1])))


def _cost(path: Path) -> dict[str, Any]:
    # Turn by turn, so that a busy moment of the machine meets both.
    ours, bare = [], []
    for _ in range(ROUNDS):
        ours.append(_seconds(lambda: analyse_recording(read_recording(path))))
        bare.append(_seconds(lambda: _bare(path)))
    return _row(
        "one set of 60 s at 1 kHz, file to measures, s",
        min(ours),
        min(bare),
        "numpy.loadtxt + scipy filtfilt + trapezoid, no checks",
        COST_GOAL,
    )


def _memory(path: Path) -> dict[str, Any]:
    return _row(
        f"largest memory of a batch of {SETS} sets, kB",
        _batch_kb(path, SETS),
        _batch_kb(path, SETS // 10),
        f"the same with {SETS // 10} sets",
        MEMORY_GOAL,
    )


def _seconds(task: Callable[[], object]) -> float:
    start = time.perf_counter()
    task()
    return time.perf_counter() - start


def _batch_kb(path: Path, count: int) -> float:
    command = [sys.executable, "-c", _BATCH, str(path), str(count)]
    return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def _row(name: str, ours: float, beside: float, peer: str, goal: float) -> dict[str, Any]:
    ratio = ours / beside
    return {
        "name": name,
        "ours": ours,
        "beside": beside,
        "peer": peer,
        "ratio": ratio,
        "goal": f"≤ {goal:g}",
        "met": ratio <= goal,
    }
