"""How often a verdict is wrong: simulated squads whose true change is known.

``python -m tests.published.error_rates`` prints the table (10,000 athletes a row, about a minute);
``--athletes N`` and ``--seed N`` change it, ``--json`` gives one line of JSON.

Each row draws, for every athlete anew, the repeated tests a team would have, estimates the typical error
from them as the error bank does, and judges one change. "wrong" is the share of athletes who had not
changed and were called changed; "covered" the share whose true change of +10 % lay in the interval.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fieldlog.analysis.error_bank import PUBLISHED_WEIGHT_DOF, shrink_error
from fieldlog.analysis.reliability import judge_change

TRUE_ERROR = math.log1p(0.07)  # 7 %, on the logarithm of the torque
TRUE_CHANGE = math.log1p(0.10)
PROMISED = (0.04, 0.06)


@dataclass(frozen=True)
class Case:
    """A row: how many own pairs, which published error beside them, the rig, and what is promised of it.

    ``teams_differ``: the true error is drawn anew about the published one, as far off as the published
    one's ten degrees of freedom say; otherwise it is 7 % for everybody.
    """

    name: str
    own_pairs: int = 0
    published: float | None = None
    rig: float = 0.0
    teams_differ: bool = False
    normal_quantile: bool = False
    promised: bool = True


CASES = (
    Case("own error from 8 pairs", 8),
    Case("own error from 20 pairs", 20),
    Case("own error from 40 pairs", 40),
    Case("own error from 8 pairs, rig 2 % at either visit", 8, rig=0.02),
    Case("own error from 20 pairs, rig 4 % at either visit", 20, rig=0.04),
    Case("published error alone, teams differ", 0, TRUE_ERROR, teams_differ=True),
    Case("8 own pairs and a published error, teams differ", 8, TRUE_ERROR, teams_differ=True),
    Case("20 own pairs and a published error, teams differ", 20, TRUE_ERROR, teams_differ=True),
    Case("40 own pairs, published error a third too small: it no longer counts", 40, TRUE_ERROR / 1.5),
    # What is not promised: said so that nobody takes it for granted.
    Case("published error alone, just right", 0, TRUE_ERROR, promised=False),
    Case("8 own pairs, published error just right", 8, TRUE_ERROR, promised=False),
    Case("8 own pairs, published error a third too small", 8, TRUE_ERROR / 1.5, promised=False),
    Case("8 own pairs, published error half too large", 8, TRUE_ERROR * 1.5, promised=False),
    Case("own error from 8 pairs, normal quantile instead of t", 8, normal_quantile=True, promised=False),
)


@dataclass(frozen=True)
class Rate:
    """What came out of a row."""

    case: Case
    wrong: float
    covered: float

    @property
    def kept(self) -> bool:
        """Whether a promised row keeps its promise."""
        return not self.case.promised or PROMISED[0] <= self.wrong <= PROMISED[1]


def own_error(rng: np.random.Generator, pairs: int, true_error: float) -> float:
    """Typical error from the differences of as many pairs of tests, about their mean."""
    differences = rng.normal(0.0, math.sqrt(2.0) * true_error, pairs)
    return float(differences.std(ddof=1)) / math.sqrt(2.0)


def rate(case: Case, athletes: int, seed: int) -> Rate:
    """Draw and judge ``athletes`` athletes."""
    rng = np.random.default_rng([seed, CASES.index(case)])
    wrong = covered = 0
    for _ in range(athletes):
        true_error = TRUE_ERROR
        if case.teams_differ:
            true_error *= math.sqrt(PUBLISHED_WEIGHT_DOF / rng.chisquare(PUBLISHED_WEIGHT_DOF))
        error, dof = 0.0, 0.0
        if case.own_pairs:
            error, dof = own_error(rng, case.own_pairs, true_error), case.own_pairs - 1.0
        if case.published is not None:
            estimate = shrink_error(error, dof, case.published)
            error, dof = estimate.value, estimate.dof
        scatter = math.hypot(math.sqrt(2.0) * true_error, math.sqrt(2.0) * case.rig)
        verdicts = [
            judge_change(
                change,
                error,
                0.02,
                te_dof=None if case.normal_quantile else dof,
                u_rig_first=case.rig,
                u_rig_second=case.rig,
            )
            for change in (rng.normal(0.0, scatter), rng.normal(TRUE_CHANGE, scatter))
        ]
        wrong += verdicts[0].real
        covered += verdicts[1].low <= TRUE_CHANGE <= verdicts[1].high
    return Rate(case, wrong / athletes, covered / athletes)


def rates(athletes: int, seed: int) -> Iterator[Rate]:
    """Every row of the table."""
    for case in CASES:
        yield rate(case, athletes, seed)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.published.error_rates", description=__doc__)
    parser.add_argument("--athletes", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    found = list(rates(options.athletes, options.seed))
    if options.json:
        rows = [
            {
                "name": each.case.name,
                "wrong_pct": 100 * each.wrong,
                "covered_pct": 100 * each.covered,
                "promised": each.case.promised,
                "kept": each.kept,
            }
            for each in found
        ]
        print(json.dumps({"athletes": options.athletes, "seed": options.seed, "rows": rows}))
    else:
        print(f"{options.athletes} athletes a row; promised: 4 to 6 % of unchanged athletes called changed\n")
        print(f"{'':<72} {'wrong':>7} {'covered':>8}")
        for each in found:
            word = ("kept" if each.kept else "BROKEN") if each.case.promised else "not promised"
            print(f"{each.case.name:<72} {each.wrong:>7.2%} {each.covered:>8.2%}  {word}")
    return 0 if all(each.kept for each in found) else 1


if __name__ == "__main__":
    sys.exit(main())
