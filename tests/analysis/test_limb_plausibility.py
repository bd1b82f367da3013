"""An evenly tensed limb is only found by comparing."""

import pytest

from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.limb_plausibility import compare_weights_pct, segment_weight_nm, weight_remarks


def limb(amplitude_nm, **facts):
    return WeightTorque(amplitude_nm, 0.0, 0.0, **facts)


def test_a_limb_as_heavy_as_before_and_as_the_other_side_is_not_remarked():
    assert weight_remarks(limb(11), last_visit=limb(12), other_side=limb(10), handbook_nm=11.6) == ()


@pytest.mark.parametrize("nm", [8.4, 11.6])
def test_more_than_fifteen_percent_from_the_last_visit_is_remarked(nm):
    (remark,) = weight_remarks(limb(nm), last_visit=limb(10))
    assert remark.code == "not_relaxed"
    assert remark.level == "warning"
    assert "16 %" in remark.text
    assert "last visit" in remark.text


def test_the_other_side_is_given_twenty_percent():
    assert weight_remarks(limb(11.9), other_side=limb(10)) == ()
    assert "other side" in weight_remarks(limb(12.1), other_side=limb(10))[0].text


@pytest.mark.parametrize(("share", "remarks"), [(0.55, 1), (0.65, 0), (1.45, 0), (1.55, 1)])
def test_the_handbook_gives_a_wide_band(share, remarks):
    assert len(weight_remarks(limb(share * 12), handbook_nm=12)) == remarks


def test_curves_are_compared_where_coefficients_mean_nothing():
    facts = {"separable": False, "lowest_deg": -20.0, "highest_deg": 20.0}
    # The same curve from two fits that shared cosine and offset out differently.
    assert compare_weights_pct(
        WeightTorque(-23.0, 0.0, 13.0, **facts), WeightTorque(-10.0, 0.0, -0.2, **facts)
    ) == pytest.approx(0, abs=8)
    assert weight_remarks(WeightTorque(-23.0, 0.0, 13.0, **facts), handbook_nm=5.0) == ()


def test_weights_over_different_angles_are_not_compared():
    with pytest.raises(ValueError, match="other angles"):
        compare_weights_pct(
            limb(10, separable=False, lowest_deg=0.0, highest_deg=30.0),
            limb(10, separable=False, lowest_deg=40.0, highest_deg=70.0),
        )


@pytest.mark.parametrize("wrong", [(0, 0.4), (80, 0)])
def test_a_body_without_mass_or_length_is_refused(wrong):
    with pytest.raises(ValueError, match="above 0"):
        segment_weight_nm(wrong[0], 0.061, 0.606, wrong[1])
