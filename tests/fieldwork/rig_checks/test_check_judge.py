"""The verdict on a rig check: points, words, lines, hysteresis, zero, angle and speed."""

import math

import pytest

from fieldlog.analysis.calibration import coverage_factor, effective_dof
from fieldlog.errors import InputError
from fieldlog.fieldwork.rig_checks.check_judge import budget, check_basis, judge, worst
from fieldlog.fieldwork.rig_checks.check_point import judge_point
from fieldlog.records.tolerance import Tolerances, ToleranceSet
from tests.simulation.exact_check import STATED, entry, point, reference, remarks


class TestPoint:
    def test_reference_error_and_tolerance_are_as_defined(self):
        judged = judge(entry(point(20, 0.4), point(5)))["torque"]["points"][0]
        assert judged["reference_nm"] == pytest.approx(reference(20), rel=1e-12)
        assert judged["error_nm"] == pytest.approx(0.4)
        assert judged["error_pct"] == pytest.approx(100 * 0.4 / reference(20))
        assert judged["tolerance_nm"] == pytest.approx(0.02 * reference(20))

    def test_small_torques_have_the_floor_as_tolerance(self):
        assert judge(entry(point(5)))["torque"]["points"][0]["tolerance_nm"] == 1.0

    def test_the_hanger_is_part_of_the_mass(self):
        body = entry(point(20), hanger_kg=1.5)
        assert judge(body)["torque"]["points"][0]["reference_nm"] == pytest.approx(reference(21.5))

    def test_uncertainty_is_the_root_sum_of_squares_of_the_sources(self):
        judged = judge(entry(point(20, arm_angle_deg=10.0)))["torque"]["points"][0]
        torque = reference(20, arm_angle_deg=10.0)
        expected = math.hypot(
            torque * 0.0005,
            torque * 0.00005,
            torque * 0.0005 / 0.5,
            torque * math.tan(math.radians(10)) * math.radians(0.5),
            0.1 / math.sqrt(12),
            0.1 / math.sqrt(12),
        )
        assert judged["u_expanded_nm"] == pytest.approx(2 * expected)
        assert judged["coverage_factor"] == 2.0

    def test_repeats_add_their_pooled_scatter_with_its_degrees_of_freedom(self):
        body = entry(point(20, 0.3), point(20, -0.1), point(20, 0.1), point(5, 0.2), point(5, 0.0))
        judged = judge(body)["torque"]["points"][0]
        s = math.sqrt((0.04 + 0.04 + 0.0 + 0.01 + 0.01) / 3)
        fixed = math.hypot(
            reference(20) * math.hypot(0.0005, 0.00005, 0.001), 0.1 / math.sqrt(12), 0.1 / math.sqrt(12)
        )
        combined = math.hypot(fixed, s)
        dof = effective_dof(combined, [fixed, s], [math.inf, 3])
        assert judged["coverage_factor"] == pytest.approx(max(2.0, coverage_factor(dof)))
        assert judged["u_expanded_nm"] == pytest.approx(judged["coverage_factor"] * combined)

    def test_another_run_or_direction_is_no_repeat(self):
        body = entry(point(20), point(20, 0.5, run="unloading"), point(20, 0.5, direction="down"))
        assert check_basis(body).repeatability.dof == 0

    def test_repeating_a_point_with_the_same_result_costs_nothing(self):
        once = judge(entry(point(5), point(20, 1.0)))["torque"]["points"][1]
        again = judge(entry(point(5), point(20, 1.0), point(20, 1.0)))["torque"]["points"][1]
        assert again == once

    def test_earlier_checks_tell_how_well_the_rig_repeats(self):
        earlier = [entry(point(10, e), point(10, -e)) for e in (0.05, 0.1) for _ in range(30)]
        judged = judge(entry(point(20)), earlier=earlier)["torque"]["points"][0]
        alone = judge(entry(point(20)))["torque"]["points"][0]
        s = math.sqrt((30 * 2 * 0.05**2 + 30 * 2 * 0.1**2) / 60)
        assert (judged["u_expanded_nm"] / 2) ** 2 == pytest.approx((alone["u_expanded_nm"] / 2) ** 2 + s**2)

    def test_one_unlucky_pair_is_softened_by_the_rigs_earlier_repeats(self):
        body = entry(point(20, 0.2), point(20, -0.2))
        earlier = [entry(point(10, 0.05), point(10, -0.05)) for _ in range(20)]
        alone = judge(body)["torque"]["points"][0]["u_expanded_nm"]
        pooled = judge(body, earlier=earlier)["torque"]["points"][0]["u_expanded_nm"]
        assert pooled < alone / 2

    def test_a_sagging_lever_is_no_scatter(self):
        body = entry(point(20, arm_angle_deg=-2.0), point(20, arm_angle_deg=-3.0))
        assert check_basis(body).repeatability.sd_nm == pytest.approx(0.0, abs=1e-2)


class TestWords:
    def test_guarded_words_follow_error_tolerance_and_uncertainty(self):
        u = judge(entry(point(5)))["torque"]["points"][0]["u_expanded_nm"]
        words = [
            judge(entry(point(5, error)))["verdict"]
            for error in (0.99 - u, 1.01 - u, 0.99, 1.01, 0.99 + u, 1.01 + u)
        ]
        assert words == [
            "pass",
            "conditional pass",
            "conditional pass",
            "conditional fail",
            "conditional fail",
            "fail",
        ]

    def test_simple_acceptance_looks_at_the_error_alone(self):
        assert judge(entry(point(5, 0.99), decision="simple"))["verdict"] == "pass"
        assert judge(entry(point(5, -1.01), decision="simple"))["verdict"] == "fail"

    @pytest.mark.parametrize(("rule", "share"), [("simple", 1 / 3), ("guarded", 1.0)])
    def test_an_uncertainty_too_large_for_the_tolerance_is_owned_up_to(self, rule, share):
        u = judge(entry(point(5)))["torque"]["points"][0]["u_expanded_nm"]
        for factor, undecidable in ((1.02, False), (0.98, True)):
            tolerance = {"torque_pct": 0.0, "torque_floor_nm": factor * u / share}
            verdict = judge(entry(point(5), tolerance=tolerance, decision=rule))
            assert verdict["torque"]["points"][0]["undecidable"] is undecidable
            assert ("undecidable" in remarks(verdict)) is undecidable

    def test_the_overall_verdict_is_the_worst_of_all_parts(self):
        assert worst(["pass", None, "conditional pass"]) == "conditional pass"
        assert worst([None]) == "pass"

    def test_tolerances_are_named_sets_or_numbers(self):
        assert judge(entry(point(20, 1.5)))["verdict"] == "pass"
        assert judge(entry(point(20, 1.5), tolerance="calibration"))["verdict"] == "fail"
        own = judge(entry(point(20, 1.5), tolerance={"torque_pct": 1.0, "torque_floor_nm": 0.5}))
        assert own["verdict"] == "fail"
        assert "taken from the field set: angle_deg, hysteresis_pct" in remarks(own)

    def test_the_teams_own_set_goes_before_the_shipped_one(self):
        own = ToleranceSet(name="field", version=2, limits=Tolerances(torque_pct=1.0))
        verdict = judge(entry(point(20, 1.5)), tolerance_sets={"field": own})
        assert verdict["verdict"] == "fail"
        assert verdict["tolerance"]["version"] == 2

    def test_a_set_nobody_knows_is_named(self):
        with pytest.raises(InputError, match="'strict'") as caught:
            judge(entry(tolerance="strict"))
        assert "calibration, field" in caught.value.hint


class TestLines:
    def test_the_line_is_tared_reading_on_reference_per_direction(self):
        body = entry(
            *[point(m, 0.003 * reference(m) + 0.1) for m in (5, 10, 20)],
            *[point(m, -0.004 * reference(m), "down") for m in (5, 10, 20)],
        )
        lines = judge(body)["torque"]["lines"]
        assert lines["up"]["slope"] == pytest.approx(1.003)
        assert lines["up"]["intercept_nm"] == pytest.approx(0.1)
        assert lines["down"]["slope"] == pytest.approx(0.996)
        assert lines["up"]["points"] == 3

    def test_two_points_give_a_line_without_uncertainties_and_one_gives_none(self):
        lines = judge(entry(point(5), point(20), point(10, direction="down")))["torque"]["lines"]
        assert lines["up"]["slope"] == pytest.approx(1.0)
        assert lines["up"]["u_slope"] is None
        assert lines["down"] is None


class TestHysteresis:
    def test_is_the_largest_difference_at_equal_loads_over_the_largest_reference(self):
        body = entry(point(10), point(20), point(20, 0.1, run="unloading"), point(10, 0.6, run="unloading"))
        torque = judge(body)["torque"]
        assert torque["hysteresis_pct"] == pytest.approx(100 * 0.6 / reference(20))
        assert torque["hysteresis_verdict"] == "pass"

    def test_fails_beyond_the_larger_of_floor_and_percentage(self):
        pair = [point(20, -0.52), point(20, 0.52, run="unloading")]
        verdict = judge(entry(*pair))
        assert verdict["torque"]["hysteresis_verdict"] == "fail"
        assert verdict["torque"]["verdict"] == "pass"
        assert verdict["verdict"] == "fail"
        heavy = [point(40, -0.52), point(40, 0.52, run="unloading")]
        assert judge(entry(*heavy))["verdict"] == "pass"

    def test_repeated_readings_count_by_their_mean(self):
        body = entry(
            point(10, 0.0),
            *[point(10, e, run="unloading") for e in (0.9, -0.9, 0.0)],
            uncertainty=STATED | {"resolution_nm": 2.0},
        )
        assert judge(body)["torque"]["hysteresis_pct"] == pytest.approx(0.0, abs=1e-9)

    def test_without_unloading_it_is_not_judged(self):
        torque = judge(entry())["torque"]
        assert (torque["hysteresis_pct"], torque["hysteresis_verdict"]) == (None, None)


class TestZero:
    @pytest.mark.parametrize(
        ("after", "word"), [(7.8, "pass"), (7.81, "fail"), (6.8, "pass"), (6.79, "fail")]
    )
    def test_a_tare_may_move_by_half_a_newton_metre(self, after, word):
        tare = {"up_before_nm": 7.3, "up_after_nm": after, "down_before_nm": 0.0, "down_after_nm": 0.1}
        verdict = judge(entry(point(5), point(5, direction="down"), tare=tare))
        assert verdict["zero"]["change_nm"] == pytest.approx(after - 7.3)
        assert verdict["zero"]["verdict"] == word

    def test_zero_alone_serves_both_directions_with_a_remark(self):
        body = entry(
            {**point(20), "reading_nm": reference(20) + 0.2},
            {**point(20, direction="down"), "reading_nm": reference(20) + 0.2},
            tare=None,
            zero={"before_nm": 0.2, "after_nm": 0.3},
        )
        verdict = judge(body)
        assert [p["error_nm"] for p in verdict["torque"]["points"]] == pytest.approx([0.0, 0.0])
        assert "zero not read per side" in remarks(verdict)


class TestAngleAndSpeed:
    def test_are_judged_by_their_tolerances(self):
        verdict = judge(
            entry(
                angle=[
                    {"reference_deg": 30, "reading_deg": 30.5},
                    {"reference_deg": 60, "reading_deg": 61.5},
                ],
                speed=[
                    {"reference_deg_s": 60, "reading_deg_s": 60.5},
                    {"reference_deg_s": 300, "reading_deg_s": 297},
                ],
            )
        )
        assert [p["verdict"] for p in verdict["angle"]["points"]] == ["pass", "fail"]
        assert verdict["angle"]["points"][1]["error_deg"] == pytest.approx(1.5)
        assert verdict["speed"]["points"][0]["tolerance_deg_s"] == 1.2
        assert verdict["speed"]["points"][1]["tolerance_deg_s"] == pytest.approx(6.0)
        assert verdict["speed"]["verdict"] == "pass"
        assert verdict["verdict"] == "fail"

    def test_where_not_checked_they_have_no_word(self):
        verdict = judge(entry())
        assert verdict["angle"] == {"points": [], "verdict": None}
        assert verdict["verdict"] == "pass"


class TestBudget:
    def test_shares_add_up_and_name_where_each_value_comes_from(self):
        found = budget(entry(point(20), point(20, 0.1), uncertainty={"mass_rel": 0.001}), 0)
        assert math.fsum(line.share_pct for line in found.lines) == pytest.approx(100.0)
        assert math.hypot(*(line.u_nm for line in found.lines)) == pytest.approx(found.u_nm)
        assert {line.source: line.origin for line in found.lines} == {
            "mass": "file",
            "gravity": "default",
            "lever length": "default",
            "lever angle": "default",
            "display step, tare": "default",
            "display step, reading": "default",
            "repeatability": "repeats",
        }

    def test_the_live_point_at_the_rig_is_judged_as_in_the_finished_check(self):
        body = entry(point(20, 0.4), point(5, -0.2), point(20, 0.3))
        basis = check_basis(body)
        live = judge_point(basis, body.torque[0], 7.3)
        finished = judge(body)["torque"]["points"][0]
        assert (live.error_nm, live.u_expanded_nm, live.verdict) == (
            finished["error_nm"],
            finished["u_expanded_nm"],
            finished["verdict"],
        )


def test_the_verdict_holds_every_key_others_rely_on():
    verdict = judge(entry())
    assert {
        "rig",
        "stage",
        "state",
        "local_gravity_m_s2",
        "torque",
        "zero",
        "angle",
        "speed",
        "verdict",
        "remarks",
    } <= set(verdict)
    assert {"points", "lines", "hysteresis_pct", "verdict"} <= set(verdict["torque"])
    assert set(verdict["torque"]["points"][0]) == {
        "mass_kg", "direction", "run", "reference_nm", "reading_nm", "error_nm", "error_pct", "tolerance_nm",
        "u_expanded_nm", "coverage_factor", "verdict", "undecidable",
    }  # fmt: skip
    assert set(verdict["torque"]["lines"]["up"]) == {
        "slope", "intercept_nm", "u_slope", "u_intercept_nm", "correlation", "residual_sd_nm", "points",
    }  # fmt: skip
    assert {"change_nm", "verdict"} <= set(verdict["zero"])
