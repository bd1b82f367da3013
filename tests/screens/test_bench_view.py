"""The bench as rows: words of every protocol fit their columns, and one reading is written in one way."""

from rich.cells import cell_len

from fieldlog.fieldwork.catalogue import shipped_protocols
from fieldlog.fieldwork.setup.dial_in import DialInLine
from fieldlog.screens.bench_view import dial_rows, set_columns
from fieldlog.screens.table import spans_of, text_of, wrapped

BODY = {"key": "foot", "label": "Foot plate", "unit": "cm", "text": "to 42.0 cm", "unchanged": False}


def cells(**fields):
    line = DialInLine(**{**BODY, "last": None, "now": None, "target": 42.0, "change": None, **fields})
    (row,), _ = dial_rows((line,), everything=True)
    return [text_of(spans_of(cell)) for cell in row.cells]


def test_the_ratio_of_every_protocol_is_named_in_short_and_is_never_cut():
    ratios = {}
    for protocol in shipped_protocols().values():
        column = set_columns(protocol)[-2]
        assert cell_len(column.title) <= column.width
        ratios[protocol.ratio_name] = column.title
    assert ratios["extension/flexion"] == "ext/flex"
    assert ratios["flexion/extension"] == "flex/ext"


def test_a_reading_has_the_decimals_of_its_scale_wherever_it_stands():
    assert cells(last=42.0, now=41.5, decimals=1)[1:3] == ["42.0 cm", "41.5 → 42.0"]
    assert cells(last=12.0, target=12.0, unit="deg", decimals=0)[1:3] == ["12°", "– → 12"]


def test_a_reading_taken_in_inches_keeps_what_it_needs():
    assert cells(last=41.275, target=41.275, decimals=1)[1:3] == ["41.275 cm", "– → 41.275"]


def test_where_nothing_was_dialled_no_unit_stands_alone():
    assert cells(decimals=1)[1] == "–"


def test_every_shipped_caution_fits_under_the_sets_of_the_smallest_window():
    for protocol in shipped_protocols().values():
        assert 0 < len(wrapped(f"Caution: {protocol.caution}", 60, "warn")) <= 5, protocol.id
