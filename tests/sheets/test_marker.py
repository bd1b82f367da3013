"""The mark in a PDF: read back from sheets, refused from anything else."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.errors import InputError
from fieldlog.sheets.coach_page import coach_sheet
from fieldlog.sheets.marker import LARGEST_PDF_BYTES, mark_pdf, read_marker
from fieldlog.sheets.render import render_pdf
from tests.sheets.pages import STAMP, line, page
from tests.sheets.reading import page_count, text_of

ABOUT = {
    "kind": "coach",
    "visit": "v1",
    "athlete": None,
    "rig": None,
    "named": False,
    "number": STAMP.number,
    "revision": 1,
    "date": "2031-05-04",
    "digest": STAMP.digest,
}


@pytest.fixture(scope="module")
def pdf():
    return mark_pdf(render_pdf(coach_sheet(page([line("R01")])), STAMP), ABOUT)


def written(tmp_path, data):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(data)
    return path


def test_a_sheet_tells_what_it_is_and_stays_a_plain_pdf(pdf, tmp_path):
    read = read_marker(written(tmp_path, pdf))
    assert {name: read[name] for name in ABOUT} == ABOUT
    assert page_count(pdf) == 1
    assert "R01" in text_of(pdf)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"%PDF-1.7\n%%EOF\n",
        b"\x00" * 5000,
        b"not a pdf",
        b"%PDF-1.7\n%fieldlog-sheet \n%%EOF",
        b"%PDF-1.7\n%fieldlog-sheet {]\n%%EOF",
        b"%PDF-1.7\n%fieldlog-sheet []\n%%EOF",
        b'%PDF-1.7\n%fieldlog-sheet {"kind": 3}\n%%EOF',
        b"%PDF-1.7\n%fieldlog-sheet " + b"[" * 4000 + b"\n%%EOF",
    ],
)
def test_anything_else_is_refused_with_one_line(data, tmp_path):
    with pytest.raises(InputError) as refused:
        read_marker(written(tmp_path, data))
    assert "sheet.pdf" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    for path in (tmp_path / "none.pdf", tmp_path):
        with pytest.raises(InputError, match=str(path)):
            read_marker(path)


def test_a_huge_file_is_not_read_to_its_end(tmp_path):
    path = tmp_path / "huge.pdf"
    with path.open("wb") as file:
        file.truncate(LARGEST_PDF_BYTES * 40)
    with pytest.raises(InputError, match="larger than"):
        read_marker(path)


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_a_file_changed_anywhere_no_longer_speaks_for_itself(pdf, tmp_path_factory, data):
    place = data.draw(st.integers(0, len(pdf) - 1))
    changed = bytearray(pdf)
    changed[place] ^= data.draw(st.integers(1, 255))
    with pytest.raises(InputError):
        read_marker(written(tmp_path_factory.mktemp("changed"), bytes(changed)))


def test_a_cut_file_is_refused(pdf, tmp_path):
    for length in (10, len(pdf) // 2, len(pdf) - 1):
        with pytest.raises(InputError):
            read_marker(written(tmp_path, pdf[:length]))
