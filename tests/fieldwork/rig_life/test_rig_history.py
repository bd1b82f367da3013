"""A rig's life over its sites."""

import datetime as dt
from dataclasses import replace

import pytest

from fieldlog.analysis.calibration import reference_torque
from fieldlog.analysis.charts import ewma, individuals
from fieldlog.fieldwork.results.cover import EventFact
from fieldlog.fieldwork.rig_checks.check_judge import judge
from fieldlog.fieldwork.rig_life.rig_comparison import compare_rigs
from fieldlog.fieldwork.rig_life.rig_history import HistoricCheck, history
from fieldlog.records.check_entry import CheckEntry
from tests.simulation.rig import Place, SimulatedRig, check_entry

START = dt.datetime.fromisoformat("2031-01-10T08:00:00+01:00")


def check(
    number, rig=None, *, days=None, site="hall", stage="opening", state="as-found", by="tester 1", **more
):
    at = START + dt.timedelta(days=30 * number if days is None else days)
    entry = CheckEntry.model_validate(
        check_entry(
            rig or SimulatedRig(),
            more.pop("place", Place(60.2, 4.0)),
            name="rig A",
            stage=stage,
            state=state,
            at=at.isoformat(),
            by=by,
            seed=number,
            **more,
        )
    )
    return HistoricCheck(f"c{number}", at, site, stage, state, judge(entry), entry)


def test_a_rig_never_checked_has_an_empty_history():
    found = history("rig A", [])
    assert (found["checks"], found["points"], found["suggested_interval_days"], found["due_on"]) == (
        [],
        [],
        None,
        None,
    )


def test_one_check_has_values_and_no_charts():
    found = history("rig A", [check(0)])
    point = found["points"][0]
    assert len(point["errors_pct"]) == 1
    assert (point["individuals"], point["ewma"], point["signals"], point["drift"]) == (None, None, [], None)
    assert found["line_charts"]["up"]["slope"]["individuals"] is None


def test_checks_stand_in_order_of_time_whatever_order_they_come_in():
    checks = [check(2, site="b"), check(0, site="a"), check(1, site="c")]
    found = history("rig A", checks)
    assert [each["site"] for each in found["checks"]] == ["a", "c", "b"]
    assert found["points"][0]["at"] == sorted(found["points"][0]["at"])
    assert found["lines"]["up"][0]["at"] == START.isoformat()


def test_instants_are_ordered_not_their_texts():
    early = replace(check(0), at=dt.datetime.fromisoformat("2031-01-10T09:00:00+05:00"))
    late = replace(check(1), at=dt.datetime.fromisoformat("2031-01-10T07:00:00+00:00"))
    assert [each["at"][-6:] for each in history("rig A", [late, early])["checks"]] == ["+05:00", "+00:00"]


def test_points_are_grouped_by_load_with_one_value_a_check():
    found = history("rig A", [check(number) for number in range(4)])
    assert [(p["mass_kg"], p["direction"]) for p in found["points"]] == [
        (mass, direction) for direction in ("up", "down") for mass in (5.0, 10.0, 20.0)
    ]
    assert all(len(p["errors_pct"]) == len(p["at"]) == 4 for p in found["points"])
    judged = [p for p in check(0).judged["torque"]["points"] if (p["mass_kg"], p["direction"]) == (5.0, "up")]
    assert len(judged) == 2
    assert found["points"][0]["errors_pct"][0] == pytest.approx(sum(p["error_pct"] for p in judged) / 2)


def test_another_lever_is_another_point():
    found = history("rig A", [check(0), check(1, arm_m=0.4)])
    assert len(found["points"]) == 12
    assert {p["arm_m"] for p in found["points"]} == {0.4, 0.5}


def test_the_nominal_reference_is_one_for_all_places():
    checks = [check(0), check(1, place=Place(0.0, 2500.0))]
    point = next(p for p in history("rig A", checks)["points"] if p["mass_kg"] == 20)
    assert point["reference_nm"] == round(reference_torque(20, 0.5), 2) == 98.05


def test_charts_are_those_of_the_analysis():
    point = history("rig A", [check(number) for number in range(10)])["points"][0]
    chart = individuals(point["errors_pct"])
    assert point["individuals"]["upper"] == pytest.approx(chart.upper)
    assert point["individuals"]["range_upper"] == pytest.approx(chart.range_upper)
    average = ewma(point["errors_pct"], target=chart.centre, sigma=chart.sigma, weight=0.3)
    assert point["ewma"]["values"] == pytest.approx(average.ewma)
    assert point["individuals"]["early"] is True


def test_a_jump_is_signalled_by_index_rule_and_sentence():
    jumped = SimulatedRig(slope_up=1.02, slope_down=1.02)
    checks = [check(number) for number in range(12)] + [check(12, jumped)]
    heavy = next(p for p in history("rig A", checks)["points"] if p["mass_kg"] == 20)
    assert {"index": 13, "rule": 1, "text": "above the upper limit (rule 1)"} in heavy["signals"]


def test_run_rules_can_be_chosen():
    shifted = [check(n, SimulatedRig(slope_up=1.0 + 0.003 * (n >= 10), noise_nm=0.02)) for n in range(20)]
    heavy = {
        rules: {
            s["rule"]
            for s in next(p for p in history("rig A", shifted, rules=rules)["points"] if p["mass_kg"] == 20)[
                "signals"
            ]
        }
        for rules in ((1,), (4,), (1, 4))
    }
    assert heavy[(4,)] == {4}
    assert heavy[(1,)] <= {1}
    assert heavy[(1, 4)] == heavy[(1,)] | heavy[(4,)]


def test_an_adjustment_starts_the_drift_line_afresh():
    rigs = [SimulatedRig(slope_up=1.0 + 0.002 * n, noise_nm=0.0, display_step_nm=0.0) for n in range(4)]
    checks = [check(n, rig) for n, rig in enumerate(rigs)] + [check(n, rigs[0]) for n in range(4, 8)]
    adjusted = EventFact(START + dt.timedelta(days=100), "adjusted")
    moved = EventFact(START + dt.timedelta(days=100), "moved")

    def slope(*events):
        found = history("rig A", checks, events)
        return next(p for p in found["points"] if p["mass_kg"] == 20)["drift"]["slope_pct_per_day"]

    assert slope(adjusted) == pytest.approx(0.0, abs=1e-9)
    assert slope(moved) == slope() != pytest.approx(0.0, abs=1e-4)


def test_a_crossing_further_than_two_years_is_not_within_reach():
    rigs = [SimulatedRig(slope_up=1.0 + 0.00001 * n, noise_nm=0.0, display_step_nm=0.0) for n in range(5)]
    drift = history("rig A", [check(n, rig) for n, rig in enumerate(rigs)])["points"][2]["drift"]
    assert drift["slope_pct_per_day"] > 0
    assert (drift["crosses_on"], drift["earliest"], drift["latest"]) == (None, None, None)


def test_two_checks_at_one_instant_have_no_drift():
    found = history("rig A", [check(0), replace(check(1), at=START)])
    assert found["points"][0]["drift"] is None
    assert found["points"][0]["individuals"] is not None


def test_the_same_masses_on_two_rigs_are_compared_load_by_load():
    first, second = check(0), check(1, SimulatedRig(slope_up=1.01))
    shared = {(load.mass_kg, load.direction): load for load in compare_rigs(first, second)}
    assert len(shared) == 6
    assert shared[20.0, "up"].difference_nm == pytest.approx(0.98, abs=0.25)
    assert shared[20.0, "up"].normalised_error > 1
    assert shared[20.0, "up"].disagrees
    assert abs(shared[20.0, "down"].normalised_error) < 1
    assert not shared[20.0, "down"].disagrees
