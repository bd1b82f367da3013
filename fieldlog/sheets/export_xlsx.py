"""The export as one workbook: typed cells, a units row under the header, a note on each column."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Mapping, Sequence
from typing import Any

from fieldlog.sheets.export_schema import Field, fields_of
from fieldlog.sheets.export_text import harmless, plain_value, without_controls

__all__ = ["workbook_bytes"]

# A workbook says when it was made; a fixed day keeps the same rows the same bytes.
MADE = dt.datetime(2000, 1, 1)  # noqa: DTZ001 (the format knows no offset)
LONGEST_CELL = 32_000
WIDEST_COLUMN = 42


def workbook_bytes(rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> bytes:
    """Return a workbook with one sheet a table; the same rows give the same bytes."""
    from xlsxwriter import Workbook

    file = io.BytesIO()
    workbook = Workbook(
        file,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
            "nan_inf_to_errors": False,
        },
    )
    workbook.set_properties({"title": "fieldlog export", "author": "fieldlog", "created": MADE})
    styles = {
        "header": workbook.add_format({"bold": True, "bottom": 1, "text_wrap": False}),
        "units": workbook.add_format({"italic": True, "font_color": "#606060"}),
        "date": workbook.add_format({"num_format": "yyyy-mm-dd", "align": "left"}),
        # The cell is text whatever it begins with, also after it was edited or saved as CSV.
        "quoted": workbook.add_format({"quote_prefix": True}),
    }
    for table, of in rows.items():
        _write_table(workbook.add_worksheet(table), fields_of(table, of), of, styles)
    workbook.close()
    return file.getvalue()


def _write_table(
    sheet: Any, fields: Sequence[Field], rows: Sequence[Mapping[str, Any]], styles: Mapping[str, Any]
) -> None:
    for column, field in enumerate(fields):
        sheet.write_string(0, column, field.name, styles["header"])
        sheet.write_string(1, column, field.unit, styles["units"])
        if field.text:
            sheet.write_comment(0, column, field.text, {"author": "fieldlog", "font_size": 9})
    for number, row in enumerate(rows, start=2):
        for column, field in enumerate(fields):
            _write_cell(sheet, (number, column), field, plain_value(row.get(field.name)), styles)
    for column, field in enumerate(fields):
        longest = max([len(field.name), *(len(str(row.get(field.name) or "")) for row in rows[:200])])
        sheet.set_column(column, column, min(longest, WIDEST_COLUMN) + 1)
    sheet.freeze_panes(2, 0)


def _write_cell(
    sheet: Any, place: tuple[int, int], field: Field, value: Any, styles: Mapping[str, Any]
) -> None:
    if value is None or value == "":
        return
    if isinstance(value, bool):
        sheet.write_boolean(*place, value)
    elif isinstance(value, int | float):
        sheet.write_number(*place, value)
    elif field.kind == "date":
        sheet.write_datetime(*place, dt.datetime.fromisoformat(value), styles["date"])
    else:
        text = without_controls(str(value))[:LONGEST_CELL]
        sheet.write_string(*place, text, styles["quoted"] if harmless(text) != text else None)
