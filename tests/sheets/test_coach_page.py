"""The coach's page, read back from its PDF."""

import dataclasses
import io
import re

import pdfplumber
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.fieldwork.pages.coach_page import coach_page
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.sheets.coach_page import coach_sheet
from fieldlog.sheets.content import DotStrip
from fieldlog.sheets.render import render_pdf
from tests.sheets.making import DAY, make_workspace
from tests.sheets.pages import FIRST, STAMP, change_of, line, page, squad
from tests.sheets.reading import (
    MARGIN_PT,
    fonts_of,
    letters_outside,
    outside_calls,
    overlapping_letters,
    page_count,
    reading_order,
    text_of,
)


def pdf_of(coach_page, *, paper="a4", stamp=STAMP, names=None):
    return render_pdf(coach_sheet(coach_page, names), stamp, paper=paper)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_thirty_athletes_with_two_sides_stand_on_one_page(paper):
    pdf = pdf_of(page(squad(30), shows_strip=True, waiting_for_rig=3, not_tested=("R31", "R40")), paper=paper)
    assert page_count(pdf) == 1
    assert not letters_outside(pdf)
    text = text_of(pdf)
    assert all(f"R{number:02d}" in text for number in range(1, 31))
    assert "page 1 of 1" in text


def test_a_squad_of_120_goes_on_over_pages_with_its_head_on_each():
    pdf = pdf_of(page(squad(120, code="R{:03d}"), shows_strip=True))
    count = page_count(pdf)
    assert 3 <= count <= 8
    lines = []
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for number, one in enumerate(document.pages, start=1):
            text = one.extract_text()
            assert f"page {number} of {count}" in text
            assert STAMP.number in text
            found = re.findall(r"(R\d\d\d) (?:left|right)", text)
            assert all(found.count(code) == 2 for code in found), "the two lines of an athlete stay together"
            assert bool(found) == ("athlete" in text and "next" in text)
            assert max(letter["bottom"] for letter in one.chars) < one.height - MARGIN_PT
            lines += found
    assert len(lines) == 240


def test_a_squad_of_one_prints_its_line_and_no_strip():
    sheet = coach_sheet(page([line("R01", "both")], shows_strip=True))
    assert not any(isinstance(block, DotStrip) for block in sheet.blocks)
    text = text_of(render_pdf(sheet, STAMP))
    assert "R01" in text
    assert "1 athlete" in text


def test_the_rig_is_named_with_the_checks_its_results_rest_on(tmp_path):
    with make_workspace(tmp_path / "team", ["R01"]) as workspace:
        store = workspace.site_named("Boathouse")
        found = coach_page(workspace, store, find_visit(store, DAY).record)
        opening, closing = found.checks[0], found.checks[-1]
        assert opening.stage == "opening"
        words = f"opening check {opening.at:%H:%M} {opening.verdict}"
        text = " ".join(text_of(render_pdf(coach_sheet(found), STAMP)).split())
        assert words in text
        assert f"{closing.at:%H:%M} {closing.verdict}" in text


def test_a_visit_without_a_result_says_so():
    text = text_of(pdf_of(page([], not_tested=("R01",))))
    assert "No result of this visit counts yet." in text
    assert "not tested today" in text


def test_the_figures_of_a_line_are_printed_with_their_units():
    text = text_of(pdf_of(page([line("R07", "right", peaks=(105.0, 210.0), mass=70.0)])))
    row = next(row for row in text.splitlines() if row.startswith("R07"))
    assert "1.50" in row
    assert "3.00" in row
    assert re.search(r"\b50\b", row)
    assert "N·m/kg" in text
    assert "flexion / extension" in text.replace("\n", " ") or "flexion /" in text


def test_without_body_mass_the_torque_itself_is_printed_with_its_unit():
    text = text_of(pdf_of(page([line("R07", mass=None, peaks=(105.4, 209.6))])))
    assert "105 N·m" in text
    assert "210 N·m" in text
    assert "no body mass" in text


def test_a_missing_result_is_a_dash_and_never_a_zero():
    row = line("R07", peaks=(None, 210.0), change={"up": FIRST, "down": change_of(3.0)})
    text = text_of(pdf_of(page([row])))
    printed = next(row for row in text.splitlines() if row.startswith("R07"))
    assert "–" in printed
    assert "0.00" not in printed
    assert "first visit, no comparison" in printed


def test_a_change_carries_its_word_and_never_only_a_colour():
    rows = [
        line("R01", change=dict.fromkeys(("up", "down"), change_of(31.0))),
        line("R02", change=dict.fromkeys(("up", "down"), change_of(-31.0))),
        line("R03", change=dict.fromkeys(("up", "down"), change_of(1.0))),
    ]
    text = text_of(pdf_of(page(rows)))
    printed = {row[:3]: row for row in text.splitlines() if row.startswith("R0")}
    assert "+31.0 higher" in printed["R01"]
    assert "−31.0 lower" in printed["R02"]
    assert "+1.0 within" in printed["R03"]


def test_every_mark_on_the_page_has_its_word_and_meaning_in_the_legend():
    rows = [
        line("R01", quality="warning", covers={"up": "confirmed", "down": "suspect"}),
        line("R02", quality="good", covers={"up": "provisional", "down": "provisional"}),
    ]
    text = text_of(pdf_of(page(rows, waiting_for_rig=1)))
    for words in (
        "warning: read with care",
        "suspect: rig failed",
        "provisional: rig passed before",
        "good: nothing",
    ):
        assert words in text
    assert "confirmed:" not in text
    assert "1 result waits for the rig" in text


def test_not_tested_is_one_word_for_all_and_reasons_are_not_printed():
    text = text_of(pdf_of(page(squad(2), not_tested=("R31", "R40"))))
    assert "not tested today" in text
    assert "R31, R40" in text
    said = text.lower().replace("pain, injury or doubt", "")
    assert not re.search(r"\b(held|clear|clearance|pain|injur\w*|absent|ill|sick|consent)\b", said)


@pytest.mark.parametrize(("count", "shown"), [(4, False), (5, True)])
def test_the_strip_needs_five_people(count, shown):
    sheet = coach_sheet(page(squad(count), shows_strip=True))
    assert any(isinstance(block, DotStrip) for block in sheet.blocks) is shown


def test_a_squad_with_minors_has_no_strip_but_its_mean_change():
    mean = {"up": (2.1, -0.5, 4.7, 24), "down": None}
    text = text_of(pdf_of(page(squad(12), shows_strip=False, mean_change=mean)))
    assert "The squad, without names" not in text
    assert "mean change +2.1 % (95 %: −0.5 to +4.7; 24 results)" in text


def test_the_strip_prints_no_code():
    sheet = coach_sheet(page(squad(12), shows_strip=True))
    strip = next(block for block in sheet.blocks if isinstance(block, DotStrip))
    assert "R0" not in repr(strip)
    assert len(strip.rows[0].open_values) == 12


def test_the_next_step_is_printed_as_the_page_says_it():
    steps = ("retest by 18 May 2031", "repeat the first visit", "nothing to add")
    rows = [line(f"R{number:02d}", next_step=step) for number, step in enumerate(steps)]
    printed = text_of(pdf_of(page(rows)))
    assert all(step in printed for step in steps)


def test_names_stand_in_for_codes_where_they_were_chosen():
    text = text_of(pdf_of(page(squad(2)), names={"R01": "Ann Example"}))
    assert "Ann Example" in text
    assert "R01" not in text
    assert "R02" in text


def test_figures_of_a_column_are_aligned_on_the_decimal_sign():
    rows = [line(f"R{number:02d}", peaks=(90.0 + 70 * number, 210.0)) for number in range(12)]
    with pdfplumber.open(io.BytesIO(pdf_of(page(rows)))) as document:
        words = document.pages[0].extract_words()
    column = [word for word in words if re.fullmatch(r"\d+\.\d\d", word["text"]) and 90 < word["x1"] < 130]
    assert len(column) == 12
    assert {len(word["text"]) for word in column} == {4, 5}
    assert max(word["x1"] for word in column) - min(word["x1"] for word in column) < 0.05


def test_the_same_page_gives_the_same_bytes():
    one = page(squad(7), shows_strip=True)
    assert pdf_of(one) == pdf_of(one)


def test_only_the_embedded_family_is_used():
    fonts = fonts_of(pdf_of(page(squad(3))))
    assert fonts
    assert all(embedded and "FiraSans" in name for name, embedded in fonts)


def test_title_language_roles_and_reading_order_are_set():
    pdf = pdf_of(page(squad(6), shows_strip=True))
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en-GB"
    assert root["/MarkInfo"]["/Marked"]
    assert reader.metadata.title.startswith("Strength test: the coach's page")
    assert str(reader.metadata["/CreationDate"]).startswith("D:20310504")
    roles = [kid.get_object()["/S"] for kid in root["/StructTreeRoot"]["/K"].get_object()["/K"]]
    assert roles[0] == "/H1"
    assert "/Table" in roles
    assert "/Figure" in roles
    text = reading_order(pdf)
    places = [
        text.index(word)
        for word in ("Strength test", "not tested today", "R01", "The squad", "not a diagnosis")
    ]
    assert places == sorted(places)


def test_each_sheet_carries_number_revision_date_and_hash():
    pdf = pdf_of(page(squad(2)))
    text = text_of(pdf)
    assert "Sheet C-20310504-3f9a2c, revision 1, 4 May 2031" in text
    assert STAMP.digest in text
    assert STAMP.digest in pypdf.PdfReader(io.BytesIO(pdf)).metadata["/Keywords"]


def test_a_reissue_says_near_the_top_what_changed():
    stamp = dataclasses.replace(STAMP, revision=2, changes=("set 3 of R07, right: changed (cough)",))
    text = text_of(pdf_of(page(squad(2)), stamp=stamp))
    assert "Changed since revision 1" in text
    assert "set 3 of R07, right: changed (cough)" in text
    assert text.index("set 3 of R07") < text.index("R01")


@pytest.mark.parametrize(
    "name",
    [
        "<img src='http://127.0.0.1/x.png'/>",
        "<b>bold</b> & <a href='file:///etc/passwd'>x</a>",
        "&lt;para&gt;",
        "\u202eevil\u202c",
        "=HYPERLINK(1)",
        "Ann [/x] {y}",
        "a" * 40,
    ],
)
def test_a_hostile_name_is_only_a_name(name):
    shown = name.replace("\u202e", "").replace("\u202c", "")
    pdf = pdf_of(page([line(name)], site_name=name, squads=(name,)))
    assert not outside_calls(pdf)
    assert not letters_outside(pdf)
    assert shown.replace(" ", "") in text_of(pdf).replace(" ", "").replace("\n", "")


def test_letters_the_font_lacks_are_said_and_not_dropped():
    text = text_of(pdf_of(page([line("文R1")])))
    assert "U+6587" in text
    assert "◊R1" in text


@given(st.text(max_size=40), st.text(max_size=60))
@settings(max_examples=25, deadline=None)
def test_any_text_at_all_prints_inside_the_margins(code, place):
    pdf = pdf_of(page([line(code, "left"), line(code, "right")], site_name=place))
    assert not letters_outside(pdf)
    assert not outside_calls(pdf)
    assert page_count(pdf) == 1


@pytest.mark.parametrize(
    "protocol", ["trunk_standing_60_120", "shoulder_rotation_60_180", "ankle_30_120", "knee_60_180"]
)
def test_the_words_of_every_protocol_find_room(protocol):
    pdf = pdf_of(page(squad(8), protocol=protocol, shows_strip=True))
    assert not letters_outside(pdf)
    assert not overlapping_letters(pdf)
