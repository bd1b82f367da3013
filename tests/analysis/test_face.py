"""The functions that other programs call: their names, what they take, and what they give, stay as they are.

An argument with a default, or a field, may be added after these; none of these may go or change its place.
"""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import subprocess
import sys

import pytest

FUNCTIONS = {
    "gravity.local_gravity": "(latitude_deg, height_m=0.0)",
    "limb.fit_weight_torque": "(angle_deg, torque_nm)",
    "trace.Trace": "(time_s, angle_deg, torque_nm, velocity_deg_s=None)",
    "calibration.reference_torque": "(mass_kg, arm_m, arm_angle_deg=0.0, *, gravity_m_s2=9.80665)",
    "calibration.fit_line": "(x, y, *, origin=0.0)",
    "calibration.effective_dof": "(u_combined, contributions, dofs)",
    "calibration.coverage_factor": "(dof, probability=0.95)",
    "calibration.decide": "(error, u_expanded, tolerance, rule='guarded')",
    "calibration.conformity_probability": "(value, u, *, lower=None, upper=None, dof=None)",
    "charts.individuals": "(values)",
    "charts.ewma": "(values, *, target, sigma, weight, width=3.0)",
    "charts.cusum": "(values, *, target, k, h)",
    "drift.forecast": "(days, errors, *, tolerance, confidence=0.95)",
    "reliability.icc": "(scores)",
    "reliability.typical_error": "(first, second)",
    "reliability.limits_of_agreement": "(first, second)",
    "reliability.minimal_detectable_change": "(typical_error, confidence=0.95)",
    "reliability.smallest_worthwhile_change": "(scores, factor=0.2, typical_error=None)",
    "reliability.judge_change": "(change, typical_error, swc, *, te_dof=None, u_rig_first=0.0, u_rig_second=0.0, confidence=0.95)",
}
OPTIONS_OF_ANALYSE = {
    "speed_deg_s",
    "weight_torque",
    "cutoff_hz",
    "band_pct",
    "at_deg",
    "body_mass_kg",
    "mode",
    "drop",
    "leave_out",
}
RESULTS = {
    "limb.WeightTorque": "cos_nm sin_nm offset_nm rms_nm range_deg separable",
    "calibration.Line": "intercept slope u_intercept u_slope correlation residual_sd dof",
    "charts.Chart": "centre lower upper mean_moving_range range_upper signals",
    "charts.EwmaChart": "ewma lower upper signals",
    "charts.CusumChart": "high low signals",
    "drift.Forecast": "slope_per_day intercept residual_sd crossing_day earliest_day latest_day",
    "reliability.ChangeVerdict": "real chance_higher chance_trivial chance_lower mdc",
    "reliability.LimitsOfAgreement": "bias sd low high",
    "trace.SetMeasures": "movements up down down_up_peak_ratio_pct isometric quality weight_torque set_speed_deg_s",
}


def found(name: str):
    module, _, attribute = name.partition(".")
    return getattr(importlib.import_module(f"fieldlog.analysis.{module}"), attribute)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_takes_what_it_took(name):
    ours = list(inspect.signature(found(name)).parameters.values())
    plain = [p.replace(annotation=inspect.Parameter.empty) for p in ours]
    promised = list(inspect.signature(eval(f"lambda {FUNCTIONS[name][1:-1]}: None")).parameters.values())
    positional = [p for p in promised if p.kind is not p.KEYWORD_ONLY]
    assert plain[: len(positional)] == positional
    assert all(p in plain for p in promised)
    added = [p for p in plain if p not in promised]
    assert all(p.default is not inspect.Parameter.empty for p in added)


def test_an_analysis_takes_a_recording_and_options_by_name():
    analyse = inspect.signature(found("trace.analyse")).parameters
    assert next(iter(analyse)) == "trace"
    assert set(analyse) >= OPTIONS_OF_ANALYSE
    assert all(analyse[name].kind is inspect.Parameter.KEYWORD_ONLY for name in OPTIONS_OF_ANALYSE)


@pytest.mark.parametrize("name", RESULTS)
def test_a_result_is_a_frozen_dataclass_with_its_fields(name):
    kind = found(name)
    assert kind.__dataclass_params__.frozen
    assert {field.name for field in dataclasses.fields(kind)} >= set(RESULTS[name].split())


def test_a_line_predicts_a_value_and_its_uncertainty():
    # GUM H.3 is checked in tests/published; here only that two plain numbers come back.
    value, uncertainty = found("calibration.fit_line")([1, 2, 3, 4], [1.1, 1.9, 3.2, 3.9]).predict(2.5)
    assert (type(value), type(uncertainty)) == (float, float)


def test_the_six_forms_of_the_icc_have_their_keys():
    forms = found("reliability.icc")([[9, 2, 5], [6, 1, 3], [8, 4, 6]])
    assert list(forms) == ["icc1", "icc2", "icc3", "icc1k", "icc2k", "icc3k"]
    assert all(list(form) == ["value", "low", "high", "f", "df1", "df2", "p"] for form in forms.values())


def test_the_numbers_need_nothing_else_of_fieldlog_and_gravity_not_even_numpy():
    code = (
        "import sys, fieldlog.analysis.gravity; assert 'numpy' not in sys.modules\n"
        "import fieldlog.analysis.trace, fieldlog.analysis.calibration, fieldlog.analysis.charts, fieldlog.analysis.drift\n"
        "import fieldlog.analysis.reliability, fieldlog.analysis.limb\n"
        "print({name for name in sys.modules if name.startswith('fieldlog.') and not name.startswith('fieldlog.analysis')})"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
