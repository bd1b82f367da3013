"""The bar: tolerance, uncertainty and error at one glance."""

from fieldlog.screens.error_bar import error_bar
from fieldlog.screens.table import text_of


def bar(error, tolerance=2.0, u=0.4, **options):
    return text_of(error_bar(error, tolerance, u, **options))


def test_the_block_lies_where_the_error_is():
    assert bar(0.0)[11] == "■"
    assert bar(1.0).index("■") == 16
    assert bar(-1.0).index("■") == 6
    assert bar(2.0).index("■") == 21


def test_an_error_outside_has_an_arrow_beyond_the_end():
    assert bar(2.5).endswith("▶")
    assert bar(-2.5).startswith("◀")
    assert "■" not in bar(2.5)


def test_the_dotted_part_is_what_the_uncertainty_takes_away():
    assert bar(None, u=0.0).count("┄") == 0
    few, many = bar(None, u=0.4).count("┄"), bar(None, u=1.5).count("┄")
    assert 0 < few < many
    assert "─" not in bar(None, u=3.0)


def test_it_is_always_as_wide_as_asked_for():
    for width in (11, 19, 23, 40):
        for error in (None, 0.0, 1.9, -7.0):
            assert len(bar(error, width=width)) in (width, width - 1)
