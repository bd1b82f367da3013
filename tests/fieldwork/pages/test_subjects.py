"""What a sheet is about gives its number: every kind has a letter of its own."""

from typing import get_args

from fieldlog.fieldwork.pages.subjects import LETTERS
from fieldlog.records.issued_sheet import SheetKind


def test_every_kind_of_sheet_has_a_letter_of_its_own():
    assert LETTERS.keys() == {*get_args(SheetKind), "season"}
    assert len(set(LETTERS.values())) == len(LETTERS)
