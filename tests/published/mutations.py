"""Make one small mistake in the arithmetic at a time; the tests must notice each. ``python -m tests.published.mutations``.

The package is copied, one text in it replaced, and the tests of the numbers run against the copy. A mutant
that survives means a number that no test watches, and the script leaves with 1. Names of mutants, or parts of
them, may be given.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Mutant:
    """One mistake: where it is made, the right text, the wrong text, and the tests that should notice."""

    name: str
    module: str
    old: str
    new: str
    tests: str


MUTANTS = [
    Mutant(
        "the filter is not corrected for its two passes",
        "filters.py",
        "math.tan(math.pi * cutoff_hz / rate_hz) / two_pass_factor(2)",
        "math.tan(math.pi * cutoff_hz / rate_hz)",
        "tests/published/test_signal_processing.py tests/analysis/test_filters.py",
    ),
    Mutant(
        "the filter runs twice more",
        "filters.py",
        "gain = 1.0 / (1.0 + (np.tan(half_angles) / tangent) ** 4)",
        "gain = 1.0 / (1.0 + (np.tan(half_angles) / tangent) ** 4) ** 2",
        "tests/published/test_signal_processing.py tests/analysis/test_filters.py",
    ),
    Mutant(
        "the cut-off is not pre-warped",
        "filters.py",
        "math.tan(math.pi * cutoff_hz / rate_hz) / two_pass_factor(2)",
        "(math.pi * cutoff_hz / rate_hz) / two_pass_factor(2)",
        "tests/published/test_signal_processing.py tests/analysis/test_filters.py",
    ),
    Mutant(
        "the derivative is one sample wide",
        "filters.py",
        "(signal[2:] - signal[:-2]) * (rate_hz / 2.0)",
        "(signal[2:] - signal[1:-1]) * rate_hz",
        "tests/published/test_signal_processing.py tests/analysis/test_filters.py",
    ),
    Mutant(
        "work in degrees",
        "measures.py",
        "turned = np.radians(np.diff(angle_deg))",
        "turned = np.diff(angle_deg)",
        "tests/analysis/test_measures.py",
    ),
    Mutant(
        "work by rectangles",
        "measures.py",
        "float(np.dot(torque_nm[1:] + torque_nm[:-1], turned)) / 2.0",
        "float(np.dot(torque_nm[1:], turned))",
        "tests/analysis/test_measures.py",
    ),
    Mutant(
        "the peak is looked for outside the load range",
        "measures.py",
        "peak = first + int(np.argmax(effort[inside]))",
        "peak = int(np.argmax(effort))",
        "tests/analysis/test_measures.py",
    ),
    Mutant(
        "the weight is added",
        "signals.py",
        "torque_nm - weight_torque.at(motion.angle_deg)",
        "torque_nm + weight_torque.at(motion.angle_deg)",
        "tests/analysis/test_trace.py tests/analysis/test_limb.py",
    ),
    Mutant(
        "gaps of 60 ms are closed",
        "load_range.py",
        "_LONGEST_GAP_S = 0.05",
        "_LONGEST_GAP_S = 0.06",
        "tests/analysis/test_load_range.py",
    ),
    Mutant(
        "the variation divides by n",
        "set_figures.py",
        "100.0 * peaks_nm.std(ddof=1) / peaks_nm.mean()",
        "100.0 * peaks_nm.std() / peaks_nm.mean()",
        "tests/analysis/test_set_figures.py",
    ),
    Mutant(
        "the decline starts at the first repetition",
        "set_figures.py",
        "_SUBMAXIMAL_STARTS = 2",
        "_SUBMAXIMAL_STARTS = 0",
        "tests/analysis/test_set_figures.py",
    ),
    Mutant(
        "the decline counts one step too many",
        "set_figures.py",
        "-100.0 * slope * (remaining.size - 1) / first",
        "-100.0 * slope * remaining.size / first",
        "tests/analysis/test_set_figures.py",
    ),
    Mutant(
        "onset at two standard deviations",
        "isometric.py",
        "_ONSET_SDS = 3.0",
        "_ONSET_SDS = 2.0",
        "tests/analysis/test_isometric.py",
    ),
    Mutant(
        "a pound-foot is a pound-inch",
        "units.py",
        '"lbf_ft": _NEWTON_PER_LBF * M_PER_UNIT["ft"]',
        '"lbf_ft": _NEWTON_PER_LBF * M_PER_UNIT["in"]',
        "tests/published/test_torque_units.py",
    ),
    Mutant(
        "gravity grows with height",
        "gravity.py",
        "at_sea_level - _FREE_AIR_PER_S2 * height_m",
        "at_sea_level + _FREE_AIR_PER_S2 * height_m",
        "tests/published/test_gravity_values.py tests/analysis/test_gravity.py",
    ),
    Mutant(
        "no air buoyancy",
        "calibration.py",
        "_AIR_BUOYANCY = 1.0 - 1.2 / 8000.0",
        "_AIR_BUOYANCY = 1.0",
        "tests/analysis/test_calibration.py tests/published/test_calibration_line.py",
    ),
    Mutant(
        "a line has n − 1 degrees of freedom",
        "calibration.py",
        "    dof = n - 2\n",
        "    dof = n - 1\n",
        "tests/published/test_calibration_line.py",
    ),
    Mutant(
        "the correlation of a line has the other sign",
        "calibration.py",
        "correlation=-mean_distance",
        "correlation=mean_distance",
        "tests/published/test_calibration_line.py",
    ),
    Mutant(
        "Welch–Satterthwaite with squares",
        "calibration.py",
        "(contribution / u_combined) ** 4 / dof",
        "(contribution / u_combined) ** 2 / dof",
        "tests/published/test_coverage.py tests/analysis/test_calibration.py",
    ),
    Mutant(
        "one-sided coverage",
        "calibration.py",
        "t_quantile(0.5 + probability / 2.0, dof)",
        "t_quantile(probability, dof)",
        "tests/published/test_coverage.py tests/analysis/test_calibration.py",
    ),
    Mutant(
        "guarded acceptance without its guard",
        "calibration.py",
        "limits = (tolerance - u_expanded, tolerance, tolerance + u_expanded)",
        "limits = (tolerance, tolerance, tolerance + u_expanded)",
        "tests/published/test_conformity.py tests/analysis/test_calibration.py",
    ),
    Mutant(
        "pooled repeats lose no degree of freedom a group",
        "calibration.py",
        "dof += len(values) - 1",
        "dof += len(values)",
        "tests/published/test_repeatability.py tests/analysis/test_calibration.py",
    ),
    Mutant(
        "EWMA limits without their root",
        "charts.py",
        "width * sigma * math.sqrt(weight / (2.0 - weight))",
        "width * sigma * weight / (2.0 - weight)",
        "tests/published/test_control_charts.py",
    ),
    Mutant(
        "the moving range counts twice",
        "charts.py",
        "sigma = mean_range / _D2",
        "sigma = mean_range",
        "tests/published/test_control_charts.py",
    ),
    Mutant(
        "typical error without √2",
        "reliability.py",
        "return float(differences.std(ddof=1)) / math.sqrt(2.0)",
        "return float(differences.std(ddof=1))",
        "tests/published/test_reliability_tables.py tests/analysis/test_reliability.py",
    ),
    Mutant(
        "the error of a two-way table has n(k − 1) degrees of freedom",
        "icc.py",
        "return (self.athletes - 1) * (self.visits - 1)",
        "return self.athletes * (self.visits - 1)",
        "tests/published/test_reliability_tables.py tests/published/test_reliability_libraries.py",
    ),
    Mutant(
        "ICC(2,1) without the visits' variance",
        "icc.py",
        "table.between + (k - 1) * table.error + k * (table.of_visits - table.error) / n,",
        "table.between + (k - 1) * table.error,",
        "tests/published/test_reliability_tables.py",
    ),
    Mutant(
        "a change has the error of one test",
        "change.py",
        "u_athlete = math.sqrt(2.0) * typical_error",
        "u_athlete = typical_error",
        "tests/analysis/test_change.py tests/published/test_error_rates.py",
    ),
    Mutant(
        "the forecast forgets the scatter of the next check",
        "drift.py",
        "c = -(reach**2) * (1.0 + 1.0 / n) - per_spread * m**2",
        "c = -(reach**2) * (1.0 / n) - per_spread * m**2",
        "tests/analysis/test_drift.py",
    ),
]


def passes(tests: list[str], copy: Path) -> bool:
    """Tell whether these tests pass in the copy."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", *tests],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        check=False,
        timeout=600,
    )
    # 1: tests failed. Anything else but 0 means that they did not run.
    if done.returncode not in (0, 1):
        raise SystemExit(f"{tests} did not run\n{done.stdout.decode()}")
    return done.returncode == 0


def survives(mutant: Mutant, copy: Path) -> bool:
    """Tell whether the tests pass with the mistake made in the copy, which is put right again."""
    place = copy / "fieldlog" / "analysis" / mutant.module
    text = place.read_text(encoding="utf-8")
    if text.count(mutant.old) != 1:
        raise SystemExit(f"{mutant.name}: its text stands {text.count(mutant.old)} times in {mutant.module}")
    place.write_text(text.replace(mutant.old, mutant.new), encoding="utf-8")
    try:
        return passes(mutant.tests.split(), copy)
    finally:
        place.write_text(text, encoding="utf-8")


def main() -> int:
    """Try the mutants named on the command line, or all; 1 where one survives."""
    wanted = sys.argv[1:]
    chosen = [mutant for mutant in MUTANTS if not wanted or any(word in mutant.name for word in wanted)]
    survivors = []
    with tempfile.TemporaryDirectory(prefix="fieldlog-mutant-") as folder:
        for name in ("fieldlog", "tests", "pyproject.toml", "sample_sites"):
            place, copy = ROOT / name, Path(folder) / name
            if place.is_dir():
                shutil.copytree(place, copy, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(place, copy)
        sound = sorted({test for mutant in chosen for test in mutant.tests.split()})
        if not passes(sound, Path(folder)):
            raise SystemExit("the tests fail without any mistake; nothing can be said of the mutants")
        for mutant in chosen:
            survived = survives(mutant, Path(folder))
            print(f"{'SURVIVED' if survived else 'noticed':<9} {mutant.name}", flush=True)
            survivors += [mutant.name] * survived
    print(f"{len(chosen)} mistakes made, {len(survivors)} not noticed")
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main())
