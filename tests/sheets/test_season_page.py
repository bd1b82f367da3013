"""The season's page of a squad: what it says, to whom, and whether it still holds."""

import csv
import datetime as dt
import io

import pytest

from fieldlog.cli.main import main
from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.pages.reissue import sheets_to_reissue
from fieldlog.fieldwork.pages.sheet_ledger import enter
from fieldlog.fieldwork.squad.retests import plan_retest
from fieldlog.records.athlete import Athlete
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_season import IssuedSeason
from fieldlog.records.rig import RigEvent
from fieldlog.sheets.making import make_sheet, season_subject, sheet_standing
from fieldlog.sheets.marker import read_marker
from fieldlog.sheets.text_forms import sheet_csv, sheet_markdown
from tests.sheets.reading import (
    fonts_of,
    letters_outside,
    outside_calls,
    overlapping_letters,
    page_count,
    reading_order,
    text_of,
)
from tests.simulation.squad_tests import KNEE, TRUNK, InventedTeam

DAYS = ("2030-11-12", "2031-01-20", "2031-03-04", "2031-05-04")
HOSTILE = "<img src='http://127.0.0.1/x'>|*[x](y)"


@pytest.fixture
def team(tmp_path):
    team = InventedTeam(tmp_path / "workspace")
    yield team
    team.workspace.close()


def rowers(team, count=5, days=DAYS, code="R{}", rise=1.05, **fields):
    """A squad that rises by 5 % a visit; the first athlete leaps by 60 % at the last."""
    people = [
        team.athlete(code.format(number), sex="male", squad="rowers", **fields) for number in range(count)
    ]
    for place, day in enumerate(days):
        visit = team.day(day)
        for number, athlete in enumerate(people):
            leap = 1.6 if number == 0 and place == len(days) - 1 else 1.0
            team.test(visit, athlete, (150.0 + 3 * number) * rise**place * leap)
    return people


def made(team, squad="rowers", **options):
    paper = options.pop("paper", "a4")
    return make_sheet(team.workspace, season_subject(team.workspace, squad, **options), paper=paper)


def standing(team, made, tmp_path):
    path = tmp_path / "season.pdf"
    path.write_bytes(made.pdf)
    return sheet_standing(team.workspace, read_marker(path))


def assert_well_set(pdf):
    assert not letters_outside(pdf)
    assert not overlapping_letters(pdf)
    assert not outside_calls(pdf)
    assert all(embedded for _, embedded in fonts_of(pdf))


def test_the_page_tells_who_changed_beyond_error_and_what_chance_would_mark(team):
    rowers(team)
    text = text_of(made(team).pdf)
    assert "Strength tests of a season" in text
    assert "rowers, 4 May 2030 to 4 May 2031" in text
    assert "5 of 5 athletes" in text
    assert "9 changes judged, 1 marked; if nobody had changed, chance alone would mark about 0.5." in text
    assert "8 pass" in text
    assert "typical error" in text.lower()
    assert "not a diagnosis" in text


def test_both_readers_find_the_same_figures_in_the_same_order(team):
    rowers(team)
    pdf = made(team).pdf
    seen, read = text_of(pdf), reading_order(pdf)
    for word in ("R0", "R4", "+76.4", "higher", "within", "20 Jan 2031", "Retests"):
        assert word in seen
        assert word in read
    assert read.index("in short") < read.index("R4") < read.index("The squad by day") < read.index("Retests")


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_many_athletes_with_long_codes_go_over_pages_with_the_head_repeated(team, paper):
    rowers(team, 48, DAYS[:2], code="Ångström-Þórðarson W{:02}")
    pdf = made(team, paper=paper).pdf
    assert page_count(pdf) >= 3
    assert_well_set(pdf)
    text = text_of(pdf)
    assert text.count("% first to last") > 2
    assert all(f"W{number:02}" in text for number in range(48))


def test_one_visit_only_is_said_and_not_compared(team):
    rowers(team, 3, DAYS[:1])
    pdf = made(team).pdf
    assert_well_set(pdf)
    assert "No comparison, one test in the season (all lines)" in text_of(pdf)
    assert "judged" not in text_of(pdf).replace("What the changes are judged by", "")


def test_a_squad_without_a_test_says_so(team):
    team.athlete("R1", squad="rowers")
    day = dt.date(2031, 5, 4)
    pdf = made(team, first_day=day, last_day=day).pdf
    assert_well_set(pdf)
    assert "No test of this squad counts in these days." in text_of(pdf)
    assert "0 of 1 athlete" in text_of(pdf)


def test_sides_of_one_athlete_stand_together(team):
    athlete = team.athlete("K1", squad="court")
    for day in DAYS[:3]:
        visit = team.day(day)
        for side in ("left", "right"):
            team.test(visit, athlete, 100.0, protocol=KNEE, side=side, gravity="sweep")
    pdf = made(team, "court").pdf
    assert_well_set(pdf)
    assert "K1 left" in text_of(pdf)
    assert "K1 right" in text_of(pdf)


def test_a_squad_with_a_minor_is_set_out_without_anybody(team):
    rowers(team)
    add_athlete(team.workspace, "Y1", by="t", squad="rowers", minor=True)
    plan_retest(
        team.workspace,
        by="t",
        squad="rowers",
        protocol_id=TRUNK,
        due_from=dt.date(2031, 5, 20),
        due_by=dt.date(2031, 5, 30),
    )
    page = made(team)
    assert_well_set(page.pdf)
    words = {
        *text_of(page.pdf).replace(",", " ").split(),
        *sheet_csv(page.sheet, page.stamp).replace(",", " ").split(),
    }
    assert not words & {"R0", "R1", "R2", "R3", "R4", "Y1"}
    assert "names nobody" in text_of(page.pdf)
    assert "due from 2031-05-20" in text_of(page.pdf)
    assert "12 Nov 2030" in text_of(page.pdf)


def test_a_small_squad_with_a_minor_shows_no_mean_that_would_name_somebody(team):
    rowers(team, 2, minor=True)
    page = made(team)
    (days,) = [
        block for block in page.sheet.blocks if getattr(block, "heading", "").startswith("The squad by day")
    ]
    assert all(cell.value is None for row in days.rows for cell in row.cells[3:])
    assert not [block for block in page.sheet.blocks if type(block).__name__ == "TrendPlot"]


def test_a_suspect_result_is_marked_and_not_compared(team):
    people = rowers(team, 3, DAYS[:3])
    visit = team.day(DAYS[3], closing=False)
    for athlete in people:
        team.test(visit, athlete, 170.0)
    text = text_of(made(team).pdf)
    assert "No comparison, rig provisional" not in text
    event = RigEvent(
        id="e1",
        rig_id=team.store and next(iter(at_site(team.store, EffortSet).all())).record.rig_id,
        at=dt.datetime.fromisoformat("2031-05-04T09:00:00+02:00"),
        kind="knocked",
        note="trolley",
    )
    at_site(team.store, RigEvent).save(event, by="t")
    text = text_of(made(team).pdf)
    assert "No comparison, rig unverified today (all lines)" in text
    assert "unverified: no valid rig check" in text


def test_hostile_codes_and_squads_are_only_text(team):
    athlete = team.athlete(HOSTILE[:40], squad="[x](y)<b>" + "é" * 60)
    for day in DAYS[:2]:
        team.test(team.day(day), athlete, 150.0)
    page = made(team, athlete.squad)
    assert_well_set(page.pdf)
    assert "\\<img" in sheet_markdown(page.sheet, page.stamp)


def test_names_are_printed_where_chosen_and_gone_once_a_person_is_erased(team):
    people = rowers(team, 3)
    team.workspace.persons.put(
        {"athlete_id": people[1].id, "name": "Zoë Invented", "at": "2031-01-01T00:00:00+00:00"}
    )
    named = made(team, named=True)
    assert "Zoë Invented" in text_of(named.pdf)
    assert "Zoë Invented" not in text_of(made(team).pdf)
    assert named.stamp.number != made(team).stamp.number
    enter(named.subject, named.issue, by="t")
    team.workspace.persons.erase(people[1].id, by="t")
    again = made(team, named=True)
    assert "Zoë" not in text_of(again.pdf)
    assert again.stamp.changes == ("a name: no longer counts",)


def test_the_same_records_give_the_same_bytes(team):
    rowers(team, 3)
    first = made(team)
    enter(first.subject, first.issue, by="t")
    assert made(team).pdf == first.pdf
    assert first.stamp.number.startswith("S-20310504-")
    assert first.stamp.date == dt.date(2031, 5, 4)


def test_a_changed_set_supersedes_the_page_and_names_it_for_a_reissue(team, tmp_path):
    people = rowers(team, 3)
    first = made(team)
    enter(first.subject, first.issue, by="t")
    assert standing(team, first, tmp_path).word == "current"
    kept = at_site(team.store, EffortSet).find(athlete_id=people[2].id)[-1]
    stopped = kept.record.model_copy(update={"standing": "stopped"})
    at_site(team.store, EffortSet).save(stopped, by="t", why="stopped after all", seen=kept.revision)
    found = standing(team, first, tmp_path)
    assert found.word == "superseded"
    assert found.changes == (f"set {kept.record.number} of R2, both: changed (stopped after all)",)
    (stale,) = sheets_to_reissue(team.workspace, [kept.record.id])
    assert stale.name == f"season page {first.stamp.number} revision 1"
    assert stale.site_name == "all places"
    second = make_sheet(team.workspace, stale.subject)
    assert second.stamp.revision == 2
    assert "no longer holds" in text_of(second.pdf)


def test_a_test_after_the_season_leaves_its_page_current(team, tmp_path):
    people = rowers(team, 3)
    first = made(team, last_day=dt.date(2031, 5, 10))
    enter(first.subject, first.issue, by="t")
    for athlete in people:
        team.test(team.day("2031-06-20"), athlete, 300.0)
    assert standing(team, first, tmp_path).word == "current"


def test_a_page_of_a_squad_that_is_no_more_does_not_hold(team, tmp_path):
    people = rowers(team, 1)
    first = made(team)
    enter(first.subject, first.issue, by="t")
    kept = of_team(team.workspace, Athlete).get(people[0].id)
    of_team(team.workspace, Athlete).save(
        kept.record.model_copy(update={"squad": "retired"}), by="t", seen=kept.revision
    )
    assert standing(team, first, tmp_path).word == "superseded"


def test_the_csv_has_a_row_an_athlete_and_the_days(team):
    rowers(team, 3)
    page = made(team)
    rows = list(csv.reader(io.StringIO(sheet_csv(page.sheet, page.stamp))))
    head = next(row for row in rows if row[:2] == ["athlete", "tests"])
    assert head == [
        "athlete",
        "tests",
        "first_day",
        "first_peak_torque_nm",
        "last_day",
        "last_peak_torque_nm",
        "change_pct",
        "change_detectable_pct",
        "change_word",
        "quality",
        "cover",
    ]
    line = next(row for row in rows if row[:1] == ["R1"])
    assert float(line[6]) == pytest.approx(100 * (1.05**2 - 1), abs=1e-4)


@pytest.fixture
def at_command(team, capsys):
    rowers(team, 3)
    folder = team.workspace.path
    team.workspace.close()

    def run(*arguments):
        with pytest.raises(SystemExit) as left:
            main(["--workspace", str(folder), "sheet", *arguments])
        return left.value.code, *capsys.readouterr()

    return run


def test_the_command_makes_enters_and_verifies_a_season(at_command, team, tmp_path):
    path = tmp_path / "season.pdf"
    status, out, _ = at_command("season", "--squad", "rowers", "-o", str(path), "--text")
    assert status == 0
    assert out.splitlines()[:3] == [str(path), str(path.with_suffix(".md")), str(path.with_suffix(".csv"))]
    status, out, _ = at_command("verify", str(path))
    assert (status, out.rstrip().rpartition(": ")[2]) == (0, "current")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--squad", "nobody", "-o", "x.pdf"), "squad 'nobody' has no athlete"),
        (("--squad", "rowers", "--from", "May", "-o", "x.pdf"), "--from: 'May' is no date"),
        (
            ("--squad", "rowers", "--from", "2031-05-01", "--to", "2031-04-01", "-o", "x.pdf"),
            "--to is before",
        ),
        (("-o", "x.pdf"), "--squad"),
        (("--squad", "rowers", "--from", "2041-01-01", "-o", "x.pdf"), "before it begins"),
    ],
)
def test_a_season_that_cannot_be_made_is_one_line_and_two(at_command, tmp_path, monkeypatch, given, said):
    monkeypatch.chdir(tmp_path)
    status, out, err = at_command("season", *given)
    assert (status, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_the_ledger_of_a_season_is_the_teams(team):
    rowers(team, 2)
    page = made(team)
    enter(page.subject, page.issue, by="t")
    (kept,) = of_team(team.workspace, IssuedSeason).all()
    assert (kept.record.squad, kept.record.revision) == ("rowers", 1)


def test_where_no_result_may_be_averaged_the_page_says_why_and_counts_the_days_all_the_same(team):
    people = rowers(team, 3, DAYS[:1])
    event = RigEvent(
        id="e1",
        rig_id=next(iter(at_site(team.store, EffortSet).all())).record.rig_id,
        at=dt.datetime.fromisoformat(f"{DAYS[0]}T09:00:00+02:00"),
        kind="knocked",
        note="trolley",
    )
    at_site(team.store, RigEvent).save(event, by="t")
    sheet = made(team).sheet
    facts = dict(sheet.blocks[0].pairs)
    assert (facts["tested"], facts["test days"]) == (f"{len(people)} of {len(people)} athletes", "1")
    text = text_of(made(team).pdf)
    assert "No result may be averaged; by the rig's cover:" in text
    assert "unverified" in text
    assert "Nothing." not in text
