"""Which curves are drawn of a set: its repetitions, the last visit, the other side; over angle and over time."""

from pathlib import Path

import pytest

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.results.imports import Import
from fieldlog.screens.curve import read_out
from fieldlog.screens.curve_data import plots_of

RECORDINGS = Path(__file__).parents[2] / "sample_sites" / "recordings"


def knee(side, speed=60):
    name = f"2026-05-06_R03_knee_{side}_0{speed}.csv"
    path = RECORDINGS / name
    if not path.is_file():
        pytest.skip("the sample workspace is not in this checkout")
    return Import(name, path.read_bytes(), side, "concentric", float(speed))


@pytest.fixture
def protocol(sample):
    return catalogue.protocol(sample, "knee_60_180")


def test_over_angle_stand_all_repetitions_the_last_visit_and_the_other_side(protocol):
    plots = plots_of(knee("right"), protocol, last=knee("right"), other=knee("left"))
    title, plot = plots[0]
    assert title == "flexion, torque over angle"
    assert [(curve.label, curve.line, curve.role) for curve in plot.curves[:3]] == [
        (plot.curves[0].label, "solid", "one"),
        ("last visit", "dashed", "last"),
        ("left", "dash-dotted", "three"),
    ]
    assert {(curve.line, curve.group) for curve in plot.curves[3:]} == {("dotted", "others")}
    assert len(plot.curves) == 2 + 5
    (load_range,) = plot.load_ranges
    assert plot.x_span[0] < load_range[0] < load_range[1] < plot.x_span[1]


def test_over_time_stands_the_whole_set_with_its_load_ranges_and_each_effort_from_its_start(protocol):
    plots = plots_of(knee("right"), protocol, last=knee("right"), other=knee("left"))
    assert [title for title, _ in plots] == [
        "flexion, torque over angle",
        "extension, torque over angle",
        "torque over time",
        "flexion, from its start",
        "extension, from its start",
    ]
    whole, from_start = plots[2][1], plots[3][1]
    assert whole.x_unit == from_start.x_unit == "s"
    assert len(whole.curves) == len(whole.load_ranges) == 10
    assert {(curve.group, curve.line) for curve in whole.curves} == {
        ("flexion", "solid"),
        ("extension", "dotted"),
    }
    assert {curve.x[0] for curve in from_start.curves} == {0.0}
    assert "last visit" in [curve.label for curve in from_start.curves]


def test_a_repetition_left_out_is_not_drawn(protocol):
    all_of_them = plots_of(knee("right"), protocol)[0][1]
    without = plots_of(knee("right"), protocol, left_out=[2])[0][1]
    assert len(without.curves) == len(all_of_them.curves) - 1


def test_the_cursor_reads_the_best_the_last_visit_and_the_other_side_first(protocol):
    from dataclasses import replace

    plot = plots_of(knee("right"), protocol, last=knee("right"), other=knee("left"))[0][1]
    said = read_out(replace(plot, cursor=45.0))
    assert said.startswith("at 45° · rep ")
    assert said.index("last visit") < said.index("left") < said.index(" · 2 ")
