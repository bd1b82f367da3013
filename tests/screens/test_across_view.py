"""What several sets give together, as rows, curves and remarks."""

from dataclasses import replace

import pytest

from fieldlog.analysis.quality import remark
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.results.across_sets import AcrossSets, Peak, control_ratios, speed_curves
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.records.base import new_id
from fieldlog.screens.across_sets import across_rows, remark_lines, speed_plots
from fieldlog.screens.table import text_of

WORDS = {"up": "flexion", "down": "extension"}


@pytest.fixture
def found(sample):
    store = sample.site_named("Tarn academy")
    athlete_id = athlete_named(sample, "T04").record.id
    sets = sets_of(store, find_visit(store).record.id, athlete_id)
    one = next(kept.record for kept in sets if kept.record.side == "right")

    def peaks(side, speed, down_nm, mode="concentric"):
        changes = {"id": new_id(), "side": side, "speed_deg_s": speed, "mode": mode}
        record = one.model_copy(update=changes)
        return [Peak(record, "up", down_nm / 2.0), Peak(record, "down", down_nm)]

    given = [
        each
        for side, share in (("right", 1.0), ("left", 0.9))
        for speed, torque in ((60.0, 200.0), (120.0, 170.0), (180.0, 150.0))
        for each in peaks(side, speed, share * torque)
    ]
    braking = peaks("right", 60.0, 140.0, "eccentric")
    braking[0] = replace(braking[0], against="poor data")
    return AcrossSets(
        "knee",
        control_ratios([*given, *braking], WORDS),
        speed_curves(given, WORDS),
        (remark("gravity_missing", "right", seen="flexion over extension climbs 20 %"),),
    )


def test_each_ratio_and_each_speed_is_a_row_with_what_it_is_made_of_or_why_not(found):
    rows = [row.words for row in across_rows((found,))]
    assert any(row.startswith("right flexion eccentric/extension concentric, 60°/s 70 %") for row in rows)
    assert any("not used: poor data" in row for row in rows)
    assert any(row.startswith("left extension, 180°/s 135 n·m") for row in rows)
    assert len(rows) == 2 + 2 * 2 * 3


def test_torque_over_speed_is_drawn_with_left_and_right_told_apart(found):
    plots = dict(speed_plots(list(found.speed_curves)))
    plot = plots["extension, peak torque over speed"]
    assert {(curve.label, curve.line) for curve in plot.curves} == {("left", "dashed"), ("right", "solid")}
    assert plot.x_unit == "°/s"
    assert plot.x_span == (60.0, 180.0)


def test_remarks_are_wrapped_in_full(found):
    text = " ".join(
        text_of(line if isinstance(line, list) else [line]).strip() for line in remark_lines((found,), 40)
    )
    assert "climbs 20 %" in text
