"""Make ``reliability_values.json``: reliability figures by pingouin and statsmodels, kept as published values.

Run it with both installed: ``python -m tests.published.make_reliability_values``. The tests read the file only.
"""

from __future__ import annotations

import json
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd
import pingouin
import statsmodels.formula.api as smf

FILE = Path(__file__).with_name("reliability_values.json")


def made_up_table(seed: int, athletes: int, visits: int, *, missing: float = 0.0) -> list[list[float | None]]:
    """Peak torques in N·m of an invented squad, to 0.1, some tests missing."""
    rng = np.random.default_rng(seed)
    level = rng.normal(180.0, 35.0, (athletes, 1))
    learning = np.linspace(0.0, 6.0, visits)
    scores = level + learning + rng.normal(0.0, 11.0, (athletes, visits))
    absent = rng.random((athletes, visits)) < missing
    return [
        [None if gone else round(float(score), 1) for score, gone in zip(row, row_gone, strict=True)]
        for row, row_gone in zip(scores, absent, strict=True)
    ]


def long_form(table: list[list[float | None]]) -> pd.DataFrame:
    return pd.DataFrame(
        [(i, j, score) for i, row in enumerate(table) for j, score in enumerate(row) if score is not None],
        columns=["athlete", "visit", "score"],
    )


def coefficients(table: list[list[float | None]]) -> dict[str, dict[str, float]]:
    """The six forms by pingouin, its limits rounded to two decimals by itself."""
    found = pingouin.intraclass_corr(
        long_form(table), targets="athlete", raters="visit", ratings="score"
    ).set_index("Type")
    names = {
        "icc1": "ICC(1,1)",
        "icc2": "ICC(A,1)",
        "icc3": "ICC(C,1)",
        "icc1k": "ICC(1,k)",
        "icc2k": "ICC(A,k)",
        "icc3k": "ICC(C,k)",
    }
    return {
        ours: {
            "value": float(found.loc[theirs, "ICC"]),
            "low": float(found.loc[theirs, "CI95"][0]),
            "high": float(found.loc[theirs, "CI95"][1]),
            "f": float(found.loc[theirs, "F"]),
            "p": float(found.loc[theirs, "pval"]),
        }
        for ours, theirs in names.items()
    }


def least_squares(table: list[list[float | None]]) -> dict[str, float]:
    """Residual of athletes and visits as fixed effects by statsmodels: the typical error, tests missing or not."""
    fit = smf.ols("score ~ C(athlete) + C(visit)", long_form(table)).fit()
    return {"typical_error": float(np.sqrt(fit.mse_resid)), "dof": int(fit.df_resid)}


def mixed_model(table: list[list[float | None]]) -> float:
    """Residual SD of a mixed model (athletes random, visits fixed, restricted likelihood) by statsmodels."""
    data = long_form(table)
    return float(np.sqrt(smf.mixedlm("score ~ C(visit)", data, groups=data["athlete"]).fit(reml=True).scale))


def main() -> None:
    complete = [made_up_table(1, 8, 2), made_up_table(2, 12, 3), made_up_table(3, 30, 6)]
    gaps = [made_up_table(4, 15, 3, missing=0.2), made_up_table(5, 30, 5, missing=0.3)]
    body = {
        "made_with": {name: version(name) for name in ("pingouin", "statsmodels", "numpy")},
        "complete": [
            {"scores": table, "icc": coefficients(table), **least_squares(table)} for table in complete
        ],
        "with_gaps": [
            {"scores": table, **least_squares(table), "mixed_model_error": mixed_model(table)}
            for table in gaps
        ],
    }
    FILE.write_text(json.dumps(body, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
