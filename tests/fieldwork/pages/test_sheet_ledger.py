"""The ledger of issued sheets: same sources, same sheet; changed sources, a new revision that says so."""

import os
import stat

import pytest

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.pages.reissue import sheets_to_reissue, stale_of_visit
from fieldlog.fieldwork.pages.sheet_ledger import draw_up, enter, issued_sheets, standing_of
from fieldlog.fieldwork.pages.source_changes import SAME_RECORDS
from fieldlog.fieldwork.results.sets import change_standing, sets_of
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.sheets.making import make_sheet, sheet_standing, subject_of
from fieldlog.store.workspace import Workspace
from tests.sheets.making import BEFORE, DAY, add_check, make_workspace


@pytest.fixture
def workspace(tmp_path):
    with make_workspace(tmp_path / "workspace", ["R01", "R02"], absent=["R03"]) as made:
        yield made


@pytest.fixture
def store(workspace):
    return workspace.site_named("Boathouse")


def subject(workspace, store, kind="coach", day=DAY, **about):
    return subject_of(workspace, store, find_visit(store, day).record, kind, **about)


def marker(subject, issue):
    return {
        "kind": subject.kind,
        "visit": subject.visit.id,
        "athlete": subject.athlete_id,
        "rig": subject.rig_id,
        "named": subject.named,
        "digest": issue.record.digest,
    }


def issue(workspace, subject):
    return make_sheet(workspace, subject).issue


def standing(workspace, mark):
    return sheet_standing(workspace, mark)


def first_set(store):
    return sets_of(store, find_visit(store, DAY).record.id)[0]


def redo(store, kept, why="slipped"):
    return change_standing(store, kept, "redone", by="lead", why=why)


@pytest.mark.parametrize(
    ("kind", "about"), [("coach", {}), ("athlete", {"athlete": "R01"}), ("rig", {}), ("visit", {})]
)
def test_the_same_sources_give_the_same_number_revision_date_and_bytes(workspace, store, kind, about):
    chosen = subject(workspace, store, kind, **about)
    first = make_sheet(workspace, chosen)
    enter(chosen, first.issue, by="tester 1")
    again = make_sheet(workspace, subject(workspace, store, kind, **about))
    enter(chosen, again.issue, by="somebody else")
    assert again.pdf == first.pdf
    assert again.issue == first.issue
    assert len(at_site(store, IssuedSheet).all()) == 1


def test_the_date_is_the_day_of_the_sources_and_not_today(workspace, store):
    assert issue(workspace, subject(workspace, store)).record.date == DAY
    assert issue(workspace, subject(workspace, store, day=BEFORE)).record.date == BEFORE


def test_another_workspace_with_the_same_work_gives_the_same_digest(tmp_path, workspace, store):
    with make_workspace(tmp_path / "other", ["R01", "R02"], absent=["R03"]) as other:
        there = other.site_named("Boathouse")
        one = issue(workspace, subject(workspace, store, "rig")).record
        two = issue(other, subject(other, there, "rig")).record
    assert one.digest == two.digest
    assert one.number == two.number


def test_a_changed_set_makes_a_new_revision_that_says_what_changed_and_why(workspace, store):
    chosen = subject(workspace, store)
    old = issue(workspace, chosen)
    enter(chosen, old, by="tester 1")
    changed = first_set(store)
    redo(store, changed)
    new = issue(workspace, chosen)
    assert (old.record.revision, new.record.revision) == (1, 2)
    assert old.record.number == new.record.number
    assert any("changed (slipped)" in line and "set" in line for line in new.changes)
    enter(chosen, new, by="tester 1")
    assert standing(workspace, marker(chosen, old)).word == "superseded"
    assert standing(workspace, marker(chosen, new)).word == "current"
    assert [sheet.revision for sheet in issued_sheets(store, chosen.visit.id)] == [1, 2]


def test_a_failed_closing_check_supersedes_the_coachs_page(workspace, store, tmp_path):
    with make_workspace(tmp_path / "open day", ["R01"], visits=()) as day:
        place = day.site_named("Boathouse")
        from fieldlog.fieldwork.athletes.athletes import athlete_named
        from fieldlog.fieldwork.visit.visits import ensure_visit
        from tests.sheets.making import add_effort

        visit = ensure_visit(place, DAY, "tester 1").record
        add_check(day, place, DAY, "opening", "08:14")
        add_effort(day, place, visit, athlete_named(day, "R01").record, "right", 1, seed=3)
        chosen = subject(day, place)
        old = issue(day, chosen)
        enter(chosen, old, by="tester 1")
        add_check(day, place, DAY, "closing", "17:40", slope=1.2)
        found = standing(day, marker(chosen, old))
        assert found.word == "superseded"
        assert any(
            line.startswith("closing check of rig A") and "fail: new" in line for line in found.changes
        )
        new = make_sheet(day, chosen)
        assert new.issue.record.revision == 2
        assert "wait" in new.sheet.blocks[-3].paragraphs[0]


def test_a_check_of_another_day_leaves_the_sheet_as_it_is(workspace, store):
    chosen = subject(workspace, store)
    old = issue(workspace, chosen)
    enter(chosen, old, by="tester 1")
    later = DAY.replace(day=20)
    add_check(workspace, store, later, "opening", "08:00")
    assert standing(workspace, marker(chosen, old)).word == "current"


def test_taking_a_change_back_makes_the_first_sheet_current_again(workspace, store):
    chosen = subject(workspace, store)
    old = issue(workspace, chosen)
    enter(chosen, old, by="tester 1")
    changed = first_set(store)
    redo(store, changed)
    enter(chosen, issue(workspace, chosen), by="tester 1")
    store.undo("sets", changed.record.id, by="lead")
    back = issue(workspace, chosen)
    assert back.record == old.record
    assert standing(workspace, marker(chosen, old)).word == "current"


def test_another_athletes_page_is_untouched_by_a_change(workspace, store):
    other = subject(workspace, store, "athlete", athlete="R02")
    old = issue(workspace, other)
    enter(other, old, by="tester 1")
    mine = sets_of(store, other.visit.id, subject(workspace, store, "athlete", athlete="R01").athlete_id)[0]
    redo(store, mine)
    assert standing(workspace, marker(other, old)).word == "current"


def test_names_and_codes_are_two_sheets_with_two_numbers(workspace, store):
    codes = issue(workspace, subject(workspace, store)).record
    names = issue(workspace, subject(workspace, store, named=True)).record
    assert codes.number != names.number
    assert (codes.revision, names.revision) == (1, 1)


def test_a_changed_name_supersedes_a_page_with_names_and_keeps_no_name_in_the_ledger(workspace, store):
    athlete = subject(workspace, store, "athlete", athlete="R01").athlete_id
    workspace.persons.put(
        {"kind": "person", "athlete_id": athlete, "name": "Ann Example", "at": "2031-05-01"}
    )
    chosen = subject(workspace, store, named=True)
    old = make_sheet(workspace, chosen)
    enter(chosen, old.issue, by="tester 1")
    assert "Ann Example" in repr(old.sheet)
    assert "Ann Example" not in old.issue.record.model_dump_json()
    workspace.persons.put({"kind": "person", "athlete_id": athlete, "name": "Ann Other", "at": "2031-05-02"})
    assert standing(workspace, marker(chosen, old.issue)).word == "superseded"


def test_a_digest_nobody_issued_is_unknown(workspace, store):
    chosen = subject(workspace, store)
    mark = marker(chosen, issue(workspace, chosen)) | {"digest": "0" * 64}
    assert standing(workspace, mark).word == "unknown"
    assert standing(workspace, mark | {"visit": "elsewhere"}).word == "unknown"


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes into folders without permission")
def test_a_disk_that_takes_no_writing_still_prints_a_sheet_that_verifies(tmp_path):
    with make_workspace(tmp_path / "workspace", ["R01"]):
        pass
    folders = [path for path in tmp_path.rglob("*") if path.is_dir()]
    for folder in folders:
        folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with Workspace.open(tmp_path / "workspace") as workspace:
            store = workspace.site_named("Boathouse")
            chosen = subject(workspace, store)
            made = make_sheet(workspace, chosen)
            assert enter(chosen, made.issue, by="tester 1")
            assert standing(workspace, marker(chosen, made.issue)).word == "current"
    finally:
        for folder in folders:
            folder.chmod(stat.S_IRWXU)


def test_an_entry_that_cannot_be_saved_is_said_and_the_sheet_still_verifies(workspace, store, monkeypatch):
    from fieldlog.errors import SaveError

    chosen = subject(workspace, store)
    made = make_sheet(workspace, chosen)

    def full(*_args, **_kwargs):
        raise SaveError("the disk is full", "make room")

    monkeypatch.setattr(store, "commit", full)
    assert "the disk is full" in enter(chosen, made.issue, by="tester 1")
    found = standing(workspace, marker(chosen, made.issue))
    assert found.word == "current"
    assert "not in this workspace's ledger" in found.text


def test_an_athlete_without_a_set_that_day_is_named(workspace, store):
    with pytest.raises(NotFoundError, match="R03 has no set on 2031-05-04"):
        subject(workspace, store, "athlete", athlete="R03")


def test_figures_worked_out_anew_from_the_same_records_are_a_new_revision(workspace, store):
    chosen = subject(workspace, store)
    old = draw_up(workspace, chosen, "the error of the test as known then")
    enter(chosen, old, by="tester 1")
    new = draw_up(workspace, chosen, "as known now")
    assert new.record.revision == 2
    assert new.changes == (SAME_RECORDS,)
    assert standing_of(workspace, marker(chosen, old), lambda _subject: "as known now").word == "superseded"


def test_a_sheet_is_to_be_made_again_after_a_change_and_not_after_one_that_was_undone(workspace, store):
    visit = find_visit(store, DAY).record
    made = make_sheet(workspace, subject(workspace, store))
    enter(made.subject, made.issue, by="t")
    assert stale_of_visit(workspace, store, visit.id) == []
    kept = sets_of(store, visit.id)[0]
    change_standing(store, kept, "familiarisation", by="t", why="only practice")
    (stale,) = stale_of_visit(workspace, store, visit.id)
    assert stale.name == f"coach page {made.stamp.number} revision 1"
    assert stale == sheets_to_reissue(workspace, [kept.record.id])[0]
    assert any(change.endswith("changed (only practice)") for change in stale.changes)
    store.undo("sets", kept.record.id, by="t")
    assert stale_of_visit(workspace, store, visit.id) == []


def test_a_coachs_page_rests_on_the_earlier_set_it_compares_with_and_on_no_other(workspace, store):
    visit = find_visit(store, BEFORE).record
    twin = sets_of(store, visit.id)[0].record
    again = twin.model_copy(
        update={"id": "again", "number": 9, "at": twin.at.replace(hour=23), "trace": "9" * 64}
    )
    at_site(store, EffortSet).save(again, by="t")
    sources = make_sheet(workspace, subject(workspace, store)).issue.record.sources
    earlier = {source.document for source in sources if source.table == "sets"}
    assert "again" in earlier
    assert twin.id not in earlier
