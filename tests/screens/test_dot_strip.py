"""A dot on a scale of text cells, as text."""

import pytest

from fieldlog.screens.dot_strip import Scale, draw_dot, scale_of, scale_words
from fieldlog.screens.table import text_of


def strip(*args, **options):
    return text_of(draw_dot(*args, **options))


def test_a_dot_lies_on_its_interval_with_the_mean_behind():
    assert strip(Scale(0, 100), 50, 11, low=30, high=70, mean=90) == "   ├─●─┤ ┊ "


def test_a_figure_that_does_not_count_is_an_open_dot():
    assert strip(Scale(0, 100), 0, 11, counted=False) == "○" + " " * 10


def test_a_strip_has_its_width_whatever_the_figures():
    for value in (-1e9, 0.0, 1e9):
        assert len(strip(Scale(0, 1), value, 20, low=-5, high=5)) == 20


def test_it_can_be_drawn_in_plain_letters():
    assert strip(Scale(0, 100), 50, 11, low=30, high=70, mean=90, ascii_only=True).isascii()


@pytest.mark.parametrize("values", [[], [0.0], [3.0, 3.0], [-20.0, 20.0], [120.1, 310.7], [1e-9, 2e-9]])
def test_a_scale_holds_every_value_between_round_ends(values):
    scale = scale_of(values)
    assert scale.low < scale.high
    assert all(scale.low <= value <= scale.high for value in values)


def test_the_scale_is_written_at_its_ends():
    assert scale_words(Scale(-50, 350), 12) == "−50      350"
