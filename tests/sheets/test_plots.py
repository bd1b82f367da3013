"""Plots of one page: a movement has the same colour in each, and movements stand in the order of the protocol."""

import pytest

from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.sheets.content import CurvePlot, Table, TrendPlot, TrendPoint
from fieldlog.sheets.making import make_sheet, subject_of
from fieldlog.sheets.plots import _looks
from tests.sheets.making import DAY, make_workspace

POINT = TrendPoint("4 May 2031", 1, 100.0, 5.0)


def trend(names, kinds=()):
    return TrendPlot("Peak torque", "N·m", tuple((name, (POINT,)) for name in names), "", kinds)


def test_series_of_one_movement_share_a_colour_and_differ_in_filling():
    plot = trend(
        ["flexion, left", "extension, left", "flexion, right", "extension, right"], ("up", "down") * 2
    )
    assert _looks(plot) == [(0, 0), (1, 0), (0, 1), (1, 1)]


def test_series_without_kinds_are_each_their_own():
    assert _looks(trend(["flexion", "extension"])) == [(0, 0), (1, 0)]


@pytest.fixture
def workspace(tmp_path):
    with make_workspace(tmp_path / "workspace", ["R01"]) as made:
        yield made


def test_movements_stand_in_the_order_of_the_protocol_in_table_and_plots(workspace):
    store = workspace.site_named("Boathouse")
    visit = find_visit(store, DAY).record
    made = make_sheet(workspace, subject_of(workspace, store, visit, "athlete", athlete="R01"))
    table = next(block for block in made.sheet.blocks if isinstance(block, Table))
    movements = [row.cells[0] for row in table.rows]
    assert movements[:2] == ["flexion", "extension"]
    for plot in (block for block in made.sheet.blocks if isinstance(block, TrendPlot)):
        assert plot.kinds == ("up", "down") * (len(plot.series) // 2)
    for plot in (block for block in made.sheet.blocks if isinstance(block, CurvePlot)):
        assert [curve.kind for curve in plot.curves if not curve.earlier] == ["flexion", "extension"]
