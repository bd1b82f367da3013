"""Curves drawn in text: seen as text, checked as text."""

import math

from fieldlog.screens.curve import Curve, CurvePlot, draw, legend, read_out
from fieldlog.screens.table import text_of

ANGLES = [float(angle) for angle in range(91)]


def hill(height, line="solid", label="rep 1", role="one"):
    return Curve(label, ANGLES, [height * math.sin(math.pi * angle / 90) for angle in ANGLES], line, role)


def lines_of(plot, width=60, height=12, **options):
    return [text_of(line) for line in draw(plot, width, height, **options)]


def test_the_picture_has_exactly_the_size_it_was_asked_for():
    for width, height in ((20, 5), (60, 12), (116, 30)):
        lines = lines_of(CurvePlot((hill(150),)), width, height)
        assert len(lines) == height
        assert {len(line) for line in lines} == {width}


def test_a_hill_is_high_in_the_middle_and_low_at_both_ends():
    body = lines_of(CurvePlot((hill(150),)), ascii_only=True)[1:-2]
    columns = range(7, 60)
    heights = {
        x: next(i for i, line in enumerate(body) if line[x] == "*")
        for x in columns
        if any(line[x] == "*" for line in body)
    }
    left, middle, right = heights[8], heights[33], heights[58]
    assert middle == 0
    assert left > 5
    assert right > 5


def test_axes_name_their_units_and_ticks():
    lines = lines_of(CurvePlot((hill(150),)))
    assert "N·m" in lines[1]
    assert lines[-1].rstrip().endswith("°")
    assert {"0", "20", "40", "60", "80"} <= set(lines[-1].split())


def test_repetitions_are_told_apart_by_line_style_without_colour():
    solid = lines_of(CurvePlot((hill(150),)))
    dashed = lines_of(CurvePlot((hill(150, "dashed"),)))
    dotted = lines_of(CurvePlot((hill(150, "dotted"),)))

    def inked(lines):
        return sum(
            (ord(mark) - 0x2800).bit_count() for line in lines for mark in line if 0x2800 < ord(mark) < 0x2900
        )

    assert inked(solid) > inked(dashed) > inked(dotted) > 20
    plot = CurvePlot((hill(150), hill(140, "dotted", "2"), hill(130, "dashed", "last visit")))
    assert legend(plot) == "rep 1 solid · 2 dotted · last visit dashed"


def test_the_load_range_is_marked_above_the_curve():
    top = lines_of(CurvePlot((hill(150),), load_ranges=((30.0, 60.0),)))[0]
    start, end = top.index("▔"), top.rindex("▔")
    assert 22 <= start <= 26
    assert 40 <= end <= 44


def test_the_cursor_reads_every_curve_with_units():
    plot = CurvePlot((hill(150), hill(120, "dashed", "last visit")), cursor=45.0)
    assert read_out(plot) == "at 45° · rep 1 150.0 N·m · last visit 120.0 N·m"
    assert any("┊" in line for line in lines_of(plot))
    assert read_out(CurvePlot((hill(150),))) == ""


def test_nothing_to_draw_is_said():
    for plot in (
        CurvePlot(()),
        CurvePlot((Curve("x", [], []),)),
        CurvePlot((Curve("x", [math.nan], [1.0]),)),
    ):
        assert lines_of(plot)[0].startswith("no curve")


def test_gaps_flat_lines_and_single_points_do_no_harm():
    curves = (
        Curve("gap", [0.0, 10.0, math.nan, 30.0, 40.0], [5.0, 5.0, 1.0, 5.0, 5.0]),
        Curve("point", [20.0], [3.0]),
        Curve("infinite", [1.0, 2.0], [math.inf, 2.0]),
    )
    for width, height in ((20, 6), (80, 20)):
        assert len(lines_of(CurvePlot(curves), width, height)) == height
    flat = CurvePlot((Curve("flat", [0.0, 1.0], [0.0, 0.0]),))
    assert len(lines_of(flat)) == 12


def test_plain_ascii_holds_no_other_character():
    plot = CurvePlot(
        (hill(150), hill(120, "dashed", "b")), x_unit="deg", y_unit="Nm", cursor=20.0, load_ranges=((10, 80),)
    )
    assert all(line.isascii() for line in lines_of(plot, ascii_only=True))


def test_zero_has_its_own_line_where_torque_changes_sign():
    below = Curve("down", ANGLES, [-80 * math.sin(math.pi * angle / 90) for angle in ANGLES])
    assert any("┈┈┈" in line for line in lines_of(CurvePlot((hill(150), below))))


def test_four_line_styles_are_told_apart_also_in_ascii():
    styles = ("solid", "dashed", "dotted", "dash-dotted")
    pictures = ["\n".join(lines_of(CurvePlot((hill(150, style),)))) for style in styles]
    assert len(set(pictures)) == 4
    marks = [set("\n".join(lines_of(CurvePlot((hill(150, style),)), ascii_only=True))) for style in styles]
    for mark, drawn in zip("*-.+", marks, strict=True):
        assert mark in drawn


def test_the_legend_names_a_group_once_and_gives_way_to_samples_where_there_is_no_room():
    plot = CurvePlot(
        (
            hill(150),
            hill(140, "dashed", "last visit"),
            hill(130, "dash-dotted", "left"),
            Curve("1", ANGLES, ANGLES, "dotted", "two", "others"),
            Curve("2", ANGLES, ANGLES, "dotted", "two", "others"),
        )
    )
    words = "rep 1 solid · last visit dashed · left dash-dotted · others dotted"
    assert legend(plot) == legend(plot, "extension", 120) == words
    short = legend(plot, "extension, torque over angle", 80)
    assert short == "── rep 1 · ╌╌ last visit · ─· left · ┈┈ others"
    assert legend(plot, "extension, torque over angle", 80, ascii_only=True).startswith("* rep 1 · - last")
