"""A set in words: figures of both directions, their ratio and the verdict, whatever the width."""

import pytest

from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.catalogue import shipped_protocols
from fieldlog.records.effort_set import EffortSet
from fieldlog.screens.set_view import figure_lines
from fieldlog.screens.table import spans_of, text_of


@pytest.mark.parametrize(("width", "count"), [(80, 2), (120, 1), (60, 3)])
def test_no_figure_of_a_set_is_cut_at_any_width(sample, width, count):
    store = sample.site_named("Skarvik boathouse")
    record = next(kept.record for kept in at_site(store, EffortSet).all() if kept.record.mode == "concentric")
    protocol = shipped_protocols()[record.protocol_id]
    lines = [text_of(spans_of(line)) for line in figure_lines(record.measures, protocol, width)]
    assert len(lines) == count
    assert all(len(line.rstrip()) <= width for line in lines)
    text = " ".join(lines)
    for word in ("flexion ", "extension ", "N·m (5 counted, CV ", f"{protocol.ratio_name} ", " %"):
        assert word in text
    assert lines[-1].rstrip().endswith(("good", "note", "warning"))
