"""Text on its way to a page: nothing hidden, nothing dropped in silence, nothing read as markup."""

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.sheets.fonts import BOLD, REGULAR, page_fonts
from fieldlog.sheets.text import STAND_IN, LetterCase, clean, fitted, wrapped

HOSTILE = st.text(
    alphabet=st.one_of(
        st.characters(),
        st.sampled_from("<>&\u202e\u2066\u200b\u0000\u001b\ud800\ufeff\u0301=+-@|`*[]()!\\\r\n\t"),
    ),
    max_size=60,
)


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("Anna\u202eroB", "AnnaroB"),
        ("two\nlines\tand\u0000more", "two lines and more"),
        ("\u001b[31mred", "[31mred"),
        ("  a   b  ", "a b"),
        ("e\u0301", "é"),
        ("a" + "\u0323" * 9, "ạ\u0323\u0323"),
        ("half \ud83d one", f"half {STAND_IN} one"),
        ("<img src='http://x'>", "<img src='http://x'>"),
    ],
)
def test_what_is_shown_is_what_was_typed_without_what_hides(typed, shown):
    assert clean(typed) == shown


@given(HOSTILE)
@settings(max_examples=60, deadline=None)
def test_clean_text_is_one_line_without_control_or_direction_characters(text):
    shown = clean(text)
    assert "\n" not in shown
    assert not any(unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Zl", "Zp") for letter in shown)
    assert clean(shown) == shown


def test_a_letter_the_font_lacks_is_shown_as_such_and_named():
    letters = LetterCase(page_fonts())
    assert letters.drawable("Łukasz 文") == f"Łukasz {STAND_IN}"
    assert "U+6587" in letters.remark()


def test_a_page_with_all_letters_says_nothing_of_missing_ones():
    letters = LetterCase(page_fonts())
    assert letters.drawable("Öğün Đặng Łoś Ženšķis Ωμέγα Жанна") == "Öğün Đặng Łoś Ženšķis Ωμέγα Жанна"
    assert letters.remark() == ""


@given(HOSTILE)
@settings(max_examples=60, deadline=None)
def test_everything_drawable_is_in_the_font(text):
    fonts = page_fonts()
    assert not any(fonts.lacks(letter) for letter in LetterCase(fonts).drawable(text))


def test_digits_are_equally_wide_so_that_columns_stand_in_line():
    fonts = page_fonts()
    for face in (REGULAR, BOLD):
        assert len({fonts.width_pt(digit, face, 10.0) for digit in "0123456789"}) == 1


@given(st.text(alphabet="abcdef ghi", min_size=1, max_size=300), st.floats(10, 200))
@settings(max_examples=60, deadline=None)
def test_wrapped_lines_fit_and_lose_no_letter(text, width_pt):
    fonts = page_fonts()
    text = clean(text) or "x"
    lines = wrapped(fonts, text, REGULAR, 8.0, width_pt)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(fonts.width_pt(line, REGULAR, 8.0) <= width_pt for line in lines)


def test_text_too_long_for_its_place_ends_in_an_ellipsis():
    fonts = page_fonts()
    shown = fitted(fonts, "a very long name of a place", REGULAR, 8.0, 50.0)
    assert shown.endswith("…")
    assert fonts.width_pt(shown, REGULAR, 8.0) <= 50.0
