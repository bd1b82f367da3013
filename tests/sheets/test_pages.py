"""The athlete's page, the rig's page and the record of a visit, from a small workspace."""

import csv
import io
import re

import pytest

from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.records.base import new_id
from fieldlog.records.clearance import Clearance
from fieldlog.records.review import Review
from fieldlog.records.rig import RigEvent, rig_id
from fieldlog.records.site import Site
from fieldlog.records.standard import Certificate, ReferenceStandard
from fieldlog.sheets.content import Column, Facts, Figure, Row, Sheet, Signatures, Table, Words
from fieldlog.sheets.making import make_sheet, subject_of
from fieldlog.sheets.render import render_pdf
from fieldlog.sheets.text_forms import sheet_csv, sheet_markdown
from fieldlog.sheets.wording import place_text
from tests.sheets.making import DAY, RIG, add_check, at, make_workspace
from tests.sheets.pages import STAMP
from tests.sheets.reading import (
    fonts_of,
    letters_outside,
    outside_calls,
    overlapping_letters,
    page_count,
    text_of,
)

HOSTILE = "<img src='http://127.0.0.1/x'>|*[x](y)"


@pytest.fixture(scope="module")
def workspace(tmp_path_factory):
    path = tmp_path_factory.mktemp("pages") / "workspace"
    with make_workspace(path, ["R01", HOSTILE[:40], "R03"], absent=["R04"]) as made:
        store = made.site_named("Boathouse")
        of_team(made, ReferenceStandard).save(
            ReferenceStandard(
                id=new_id(),
                name="mass set 1",
                kind="mass",
                nominal=20.0,
                unit="kg",
                mass_class="M1",
                certificate=Certificate(number="C-77", traceable_to="national standard"),
            ),
            by="lead",
        )
        kept = add_check(
            made,
            store,
            DAY,
            "interim",
            "13:05",
            standards=["mass set 1"],
            conditions={"temperature_c": 6.5},
            angle=[{"reference_deg": 30.0, "reading_deg": 30.2}],
            speed=[{"reference_deg_s": 60.0, "reading_deg_s": 60.4}],
        )
        at_site(store, Review).save(
            Review(
                id=new_id(),
                subject_table="rig_checks",
                subject_id=kept.record.id,
                decision="signed_off",
                at=at(DAY, "19:00"),
                by="lead",
                remark="seen " + HOSTILE,
            ),
            by="lead",
        )
        at_site(store, RigEvent).save(
            RigEvent(id=new_id(), rig_id=rig_id(RIG), at=at(DAY, "13:00"), kind="knocked", note="trolley"),
            by="tester 1",
        )
        visit = find_visit(store, DAY).record
        at_site(store, Clearance).save(
            Clearance(
                id=new_id(),
                visit_id=visit.id,
                athlete_id="someone",
                at=at(DAY, "09:00"),
                by="tester 1",
                outcome="limits",
                consent_in_date=True,
                decided_by="Dr Example",
                decided_role="physician",
                decided_at=at(DAY, "09:01"),
                limits="left knee: SECRET REASON",
            ),
            by="tester 1",
        )
        yield made


def made(workspace, kind, **about):
    store = workspace.site_named("Boathouse")
    paper = about.pop("paper", "a4")
    subject = subject_of(workspace, store, find_visit(store, DAY).record, kind, **about)
    return make_sheet(workspace, subject, paper=paper)


KINDS = [("coach", {}), ("athlete", {"athlete": "R01"}), ("rig", {}), ("visit", {})]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(("kind", "about"), KINDS)
def test_every_page_stays_inside_its_margins_in_its_own_fonts(workspace, kind, about, paper):
    pdf = made(workspace, kind, paper=paper, **about).pdf
    assert not letters_outside(pdf)
    assert not overlapping_letters(pdf)
    assert not outside_calls(pdf)
    assert all(embedded for _, embedded in fonts_of(pdf))
    assert f"page {page_count(pdf)} of {page_count(pdf)}" in text_of(pdf)


@pytest.mark.parametrize(("kind", "about"), KINDS)
def test_every_page_says_the_same_as_markdown_and_as_csv(workspace, kind, about):
    sheet = made(workspace, kind, **about)
    markdown = sheet_markdown(sheet.sheet, sheet.stamp)
    assert markdown.startswith(f"# {sheet.sheet.title}")
    assert sheet.stamp.digest in markdown
    assert "<img" not in markdown.replace("\\<img", "")
    cells = [cell for row in csv.reader(io.StringIO(sheet_csv(sheet.sheet, sheet.stamp))) for cell in row]
    assert sheet.stamp.number in cells
    for row in csv.reader(io.StringIO(sheet_csv(sheet.sheet, sheet.stamp))):
        for cell in row:
            try:
                float(cell)
            except ValueError:
                assert cell[:1] not in ("=", "+", "-", "@")


def test_a_markdown_table_has_as_many_cells_in_each_row_as_in_its_head(workspace):
    sheet = made(workspace, "coach")
    table = [row for row in sheet_markdown(sheet.sheet, sheet.stamp).splitlines() if row.startswith("|")]
    counts = {len(re.findall(r"(?<!\\)\|", row)) for row in table}
    assert len(counts) == 1
    assert len(table) == 2 + 6


def test_the_athletes_page_speaks_of_nobody_else_and_says_what_figures_mean(workspace):
    text = text_of(made(workspace, "athlete", athlete="R01").pdf)
    assert "R01" in text
    assert "R03" not in text
    assert "What the figures mean, and what not" in text
    assert "They do not say whether you are healthy" in text
    assert "not a diagnosis" in text
    assert "Peak torque over your visits" in text
    assert "12 Nov 2030" in text
    assert "±" in text


def test_the_athletes_page_says_how_many_marks_chance_alone_would_make(workspace):
    text = text_of(made(workspace, "athlete", athlete="R01").pdf)
    assert "judged" in text
    assert "chance alone would mark about" in text


def test_the_athletes_page_without_the_recording_says_so_in_place_of_the_curve(workspace):
    assert "No curve, left and right" in text_of(made(workspace, "athlete", athlete="R01").pdf)


def test_the_rigs_page_holds_points_lines_uncertainty_rule_and_signatures(workspace):
    text = " ".join(text_of(made(workspace, "rig").pdf).split())
    for words in (
        "Verification of a strength-testing rig",
        "Opening check, 08:14, as-found: pass",
        "Closing check, 17:40, as-found: pass",
        "Interim check, 13:05",
        "294.54",
        "guarded acceptance with the guard band U (ILAC-G8:09/2019)",
        "mass set 1",
        "C-77",
        "national standard",
        "6.5 °C",
        "knocked",
        "signed off",
        "taken by: name, date, signature",
        "not a certificate of an accredited laboratory",
    ):
        assert words in text, words


def test_every_item_of_such_a_report_is_present_or_named_as_not_applicable(workspace):
    sheet = made(workspace, "rig").sheet
    items = next(
        block for block in sheet.blocks if getattr(block, "heading", "") == "What a report must hold"
    )
    assert len(items.rows) >= 20
    for row in items.rows:
        item, where = row.cells
        assert where.startswith(("not applicable", "not present", "not given")) or any(
            word in where for word in ("page", "above", "below", "table", "check", "point", "lever")
        ), (item, where)


def test_the_uncertainty_that_is_printed_is_the_one_the_check_was_judged_by(workspace):
    sheet = made(workspace, "rig").sheet
    tables = [block for block in sheet.blocks if getattr(block, "heading", "").startswith("Uncertainty at")]
    # The standard was entered after two of the checks, so theirs cannot be worked out as it was.
    assert len(tables) == 1
    assert "not printed, because checks or standards entered since" in repr(sheet)
    assert all(re.search(r"U = \d+\.\d+ N·m", table.remark) for table in tables)


def test_the_record_of_a_visit_holds_the_day_without_reasons_of_health(workspace):
    text = " ".join(text_of(made(workspace, "visit").pdf).split())
    for words in (
        "Record of a visit",
        "Rig checks",
        "knocked",
        "go with limits",
        "Dr Example",
        "R04",
        "Sets in order",
    ):
        assert words in text, words
    assert "SECRET" not in text
    assert "left knee" not in text


def test_the_record_of_a_visit_says_recipes_and_directions_in_words(workspace):
    sheet = made(workspace, "visit").sheet
    text = repr(sheet)
    assert "1: version 1, torque low-passed at 15 Hz, load range within 5 % of the set speed, weight" in text
    assert "{'" not in text
    assert "leave_out" not in text
    (sets,) = [block for block in sheet.blocks if getattr(block, "heading", "").startswith("Sets in order")]
    heads = {column.key: column.header for column in sets.columns}
    assert heads["up_peak_torque_nm"] == "flexion"
    assert heads["down_peak_torque_nm"] == "extension"


def test_an_event_names_who_noted_it_and_a_place_its_hemisphere(workspace):
    text = " ".join(text_of(made(workspace, "visit").pdf).split())
    assert re.search(r"noted by \d\d:\d\d knocked .*?tester", text)
    south = Site(id="s" * 24, name="South shed", latitude_deg=-41.25, height_m=12.0)
    assert place_text(south) == "South shed; 41.25° S, 12 m above sea level"


def test_a_short_table_is_not_torn_over_two_pages():
    columns = (Column("a", "only head"), Column("n", "number", "N·m", "number", 30))
    rows = tuple(Row((f"row {place}", Figure(1.0))) for place in range(7))
    for lines in range(40, 70):
        above = Words(tuple(f"line {place}" for place in range(lines)))
        text = text_of(render_pdf(Sheet("rig", "T", "S", (above, Table("Short", columns, rows))), STAMP))
        assert text.count("only head") == 1, lines


def test_a_visit_with_nothing_in_it_prints(tmp_path):
    with make_workspace(tmp_path / "empty", [], visits=()) as empty:
        store = empty.site_named("Boathouse")
        add_check(empty, store, DAY, "opening", "08:14")
        for kind in ("coach", "rig", "visit"):
            subject = subject_of(empty, store, find_visit(store, DAY).record, kind)
            assert page_count(make_sheet(empty, subject).pdf) >= 1


def test_the_longest_texts_and_largest_numbers_a_record_may_hold_stay_on_the_page():
    long = "W" * 2000
    words = " ".join(["word"] * 3000)
    columns = (
        Column("a", "narrow", width_pt=30),
        Column("b", "wide", width_pt=60, share=1),
        Column("n", "number", "N·m", "number", 30),
    )
    sheet = Sheet(
        "visit",
        "T" * 300,
        "S" * 900,
        (
            Facts((("note", long), ("short", "yes"), ("words", words[:2000]))),
            Table(
                "", columns, (Row((long, long, Figure(-1e12))), Row(("x", "y", Figure(1e300)))), remark=long
            ),
            Words((long, words)),
            Signatures(("one", "two", "three")),
        ),
    )
    pdf = render_pdf(sheet, STAMP)
    assert not letters_outside(pdf)
    assert not overlapping_letters(pdf)
    assert page_count(pdf) <= 8
    assert "the record has more" in text_of(pdf)
