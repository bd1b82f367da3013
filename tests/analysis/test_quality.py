"""What is said of a code: its own words, and never an empty sentence."""

import pytest

from fieldlog.analysis.quality import remark


def test_a_code_without_words_is_refused_and_not_printed_empty():
    with pytest.raises(KeyError):
        remark("surprise", "Movement 1")


def test_the_usual_words_stand_where_none_are_given():
    usual = remark("clipped", "Movement 3")
    assert usual.level == "stop"
    assert usual.text.startswith("Movement 3: the torque is cut off flat")
    assert remark("clipped", seen="a flat top", advice="repeat").text == "A flat top; repeat."
