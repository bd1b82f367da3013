"""The squad by keys: any measure, whom, history, adding people, a list with a look at each row."""

import datetime as dt

import pytest
from textual import events

from fieldlog.fieldwork.athletes.athletes import athletes_with_code
from fieldlog.fieldwork.change.published_errors import typed_errors
from fieldlog.fieldwork.change.repeat_spans import repeat_spans
from fieldlog.fieldwork.squad.retests import plan_retest, retests_due
from fieldlog.fieldwork.squad.squad_thresholds import save_threshold, thresholds
from fieldlog.screens.squad import SquadRoom
from tests.screens.kept_text import assert_as_kept

NOW = dt.datetime(2026, 5, 6, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))


@pytest.fixture
def squad(hands, sample):
    def opened(**options):
        return hands(sample, start=NOW, **options)

    return opened


async def test_the_squad_is_one_key_from_the_first_room(squad):
    async with squad() as pair:
        await pair.press("q")
        assert isinstance(pair.room, SquadRoom)
        assert_as_kept("squad_80x24.txt", pair.text)
        assert len(pair.room.query_one("KeysLine").keys) <= 7


async def test_rows_stand_in_order_of_code_and_nobody_is_placed_in_a_small_squad(squad):
    async with squad(size=(120, 40)) as pair:
        await pair.press("q")
        codes = [row.cells[0] for row in pair.room.query_one("#rows").rows]
        assert codes == sorted(codes)
        assert "z-scores and percentiles from 20 on" in pair.text
        assert all(row.cells[-1] == "" and row.cells[-2] == "" for row in pair.room.query_one("#rows").rows)


async def test_a_measure_is_found_by_typing(squad):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("p")
        await pair.press("/")
        await pair.type("trunk peak best extension 60")
        await pair.press("enter")
        assert "Trunk" in pair.text
        assert "peak torque, best, extension, 60°/s" in pair.room.shown.heading


async def test_a_change_stands_beside_what_error_alone_makes(squad):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("p")
        await pair.press("/")
        await pair.type("trunk peak best extension 60")
        await pair.press("enter")
        await pair.press("/")
        await pair.type("r01")
        row = next(row for row in pair.room.shown.rows if row.code == "R01")
        assert row.change.judged
        assert row.change.word in pair.text
        assert "error alone makes" in pair.text


async def test_brackets_go_from_measure_to_measure_and_round(squad):
    async with squad() as pair:
        await pair.press("q")
        first = pair.room.question
        await pair.press("]")
        assert pair.room.question != first
        await pair.press("[ [")
        assert pair.room.question == pair.room.questions[-1]


async def test_a_side_difference_stands_beside_its_own_detectable_one(squad):
    async with squad() as pair:
        await pair.press("q")
        assert "right−left" in pair.text
        assert "within error" in pair.text


async def test_people_are_picked_and_dropped_again(squad):
    async with squad() as pair:
        await pair.press("q")
        everybody = len(pair.room.shown.rows)
        await pair.press("F")
        await pair.press("/")
        await pair.type("under 18 squad")
        await pair.press("space enter")
        assert pair.room.asked.squad == "Tarn skiers under 18"
        assert 0 < len(pair.room.shown.rows) < everybody
        await pair.press("F")
        await pair.press("/")
        await pair.type("under 18 squad")
        await pair.press("space enter")
        assert len(pair.room.shown.rows) == everybody


async def test_enter_shows_an_athletes_visits_and_esc_comes_back_to_the_row(squad):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("p")
        await pair.press("/")
        await pair.type("trunk peak best extension 60")
        await pair.press("enter")
        await pair.press("/")
        await pair.type("r01")
        await pair.press("enter")
        assert type(pair.room).__name__ == "AthleteHistoryRoom"
        assert len(pair.room.history.points) >= 2
        assert "first visit" in pair.text
        await pair.press("escape")
        assert isinstance(pair.room, SquadRoom)
        assert pair.room.row.code == "R01"


async def test_a_planned_retest_is_shown_until_it_is_done(squad, sample):
    plan_retest(
        sample,
        by="t",
        squad="Skarvik rowers",
        protocol_id="trunk_standing_60_120",
        due_from=dt.date(2026, 5, 20),
        due_by=dt.date(2026, 5, 30),
    )
    async with squad() as pair:
        await pair.press("q")
        assert "Skarvik rowers" in pair.text
        assert "due from 2026-05-20" in pair.text


async def test_an_athlete_is_added_and_taken_back_by_keys(squad, sample):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("a")
        for text in ("R99", "Skarvik rowers", "f", "n", "stroke"):
            await pair.type(text)
        added = athletes_with_code(sample, "R99")[0].record
        assert (added.squad, added.sex, added.minor, added.position) == (
            "Skarvik rowers",
            "female",
            False,
            "stroke",
        )
        await pair.press("u")
        assert athletes_with_code(sample, "R99") == []


async def test_a_code_that_is_used_is_not_given_twice(squad, sample):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("a")
        for text in ("R01", "", "", "", ""):
            await pair.type(text)
        assert "R01 is entered already" in pair.said
        assert len(athletes_with_code(sample, "R01")) == 1


async def test_a_list_is_looked_at_row_by_row_and_entered_with_one_key(squad, sample, tmp_path):
    path = tmp_path / "squad.csv"
    path.write_text("code,squad,sex,minor,name\nN01,New,f,no,Ann [/x]\nR01,New,m,no,\n", encoding="utf-8")
    async with squad() as pair:
        await pair.press("q")
        await pair.press("i")
        await pair.type(str(path))
        assert "+ new" in pair.text
        assert "= known" in pair.text
        assert athletes_with_code(sample, "N01") == []
        await pair.press("enter")
        assert isinstance(pair.room, SquadRoom)
        athlete = athletes_with_code(sample, "N01")[0].record
        assert [body["name"] for body in sample.persons.for_athlete(athlete.id)] == ["Ann [/x]"]
        await pair.press("u")
        assert athletes_with_code(sample, "N01") == []


async def test_a_wrong_row_is_named_and_nothing_is_entered(squad, sample, tmp_path):
    path = tmp_path / "squad.csv"
    path.write_text("code,sex\nN01,f\nN02,x\n", encoding="utf-8")
    async with squad() as pair:
        await pair.press("q")
        await pair.press("i")
        await pair.type(str(path))
        assert "✗ wrong" in pair.text
        await pair.press("enter")
        assert "line 3" in pair.said
        assert athletes_with_code(sample, "N01") == []


async def test_a_file_that_is_not_there_is_said_and_the_room_stays(squad):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("i")
        await pair.type("/nowhere/squad.csv")
        assert "squad.csv" in pair.said
        assert isinstance(pair.room, SquadRoom)


async def test_a_workspace_without_results_says_so(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("q")
        assert "nobody has a figure" in pair.text
        await pair.press("p F escape ] enter m")
        assert isinstance(pair.room, SquadRoom)


async def test_hostile_names_of_squads_and_codes_are_only_text(hands, workspace):
    from fieldlog.fieldwork.athletes.athletes import add_athlete

    add_athlete(workspace, "[bold]x[/y]", by="t", squad="\x1b[31m\u202e[/x]" + "ü" * 60)
    async with hands(workspace) as pair:
        await pair.press("q")
        await pair.press("F")
        assert "\x1b" not in pair.text
        assert "[/x]" in pair.text


async def test_the_room_can_be_printed_as_text(sample):
    import asyncio

    from fieldlog.screens.text_view import room_lines

    lines = await asyncio.to_thread(room_lines, sample, "squad", clock=lambda: NOW)
    assert lines[0].startswith("squad, everybody")
    assert any("R01" in line and "●" in line for line in lines)


async def test_the_dots_keep_their_room_in_the_smallest_window_and_without_colour(squad, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    async with squad(size=(60, 20)) as pair:
        await pair.press("q")
        row = next(line for line in pair.text.split("\n") if "R01" in line and "left" in line)
        assert "├" in row
        assert "┤" in row
        assert "first visit" in row


async def test_keys_typed_at_once_after_each_other_are_all_taken_in_their_order(squad):
    async with squad() as pair:
        # As fast as a terminal hands over what was pasted: nothing is waited for between the keys.
        for name in ("q", "p", "slash", *"trunk", "space", *"120"):
            pair.app._driver.send_message(events.Key(name, {"slash": "/", "space": " "}.get(name, name)))
        await pair.settle()
        assert type(pair.room).__name__ == "MeasureChoice"
        assert pair.room.query_one("#choices").needle == "trunk 120"


async def test_a_retest_is_planned_called_off_and_each_taken_back(squad, sample):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("D")
        assert "no retest is planned" in pair.text
        await pair.press("a")
        for _ in range(60):
            await pair.press("backspace")
        await pair.type("skarvik rowers")
        for _ in range(60):
            await pair.press("backspace")
        await pair.type("trunk flexion and extension, standing")
        await pair.type("")
        await pair.type("")
        assert "due from 2026-05-20 (8 athletes)" in pair.text
        assert "waiting: R01" in pair.text
        await pair.press("Z")
        await pair.type("camp moved")
        assert "no retest is planned" in pair.text
        await pair.press("u")
        assert "Skarvik rowers" in pair.text
        assert len(retests_due(sample, dt.date(2026, 5, 6))) == 1
        await pair.press("escape")
        assert "due from 2026-05-20" in pair.text
        await pair.press("D u")
        assert "no retest is planned" in pair.text
        assert retests_due(sample, dt.date(2026, 5, 6)) == []


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        (["Nobody at all"], "Nobody at all"),
        (["R01", "no such protocol"], "no protocol called"),
        (["R01", "trunk flexion and extension, standing", "May"], "'May' is no date"),
        (["R01", "trunk flexion and extension, standing", "2026-05-20", "2026-05-01"], "due_by is before"),
    ],
)
async def test_a_retest_that_cannot_be_is_one_line(squad, sample, answers, said):
    async with squad() as pair:
        await pair.press("q")
        pair.room.asked = pair.room.asked.with_choice("squad", "")
        await pair.press("D")
        pair.room.who = pair.room.protocol_name = ""
        await pair.press("a")
        for answer in answers:
            for _ in range(12 if "-" in pair.room.query_one("AskLine").text else 0):
                await pair.press("backspace")
            await pair.type(answer)
        assert said in pair.said
        assert retests_due(sample, dt.date(2026, 5, 6)) == []


async def test_limits_are_set_changed_taken_away_and_each_taken_back(squad, sample):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("L")
        assert "the team has set no limit" in pair.text
        pair.room.protocol_name = ""
        await pair.press("a")
        for answer in ("knee extension and flexion, 60 and 180", "", "55", "75,5", "agreed in the team"):
            await pair.type(answer)
        (kept,) = thresholds(sample)
        assert (kept.record.low_pct, kept.record.high_pct) == (55.0, 75.5)
        assert "agreed in the team" in pair.text
        await pair.press("enter")
        await pair.press("backspace backspace")
        for answer in ("60", "", ""):
            await pair.type(answer)
        assert thresholds(sample)[0].record.low_pct == 60.0
        await pair.press("Z")
        assert thresholds(sample) == []
        await pair.press("u")
        assert thresholds(sample)[0].record.low_pct == 60.0
        await pair.press("u")
        assert thresholds(sample)[0].record.low_pct == 55.0
        await pair.press("u")
        assert thresholds(sample) == []


async def test_a_limit_flags_the_lines_beyond_it(squad, sample):
    save_threshold(
        sample,
        by="t",
        measure="side_difference_pct",
        protocol_id="knee_60_180",
        high_pct=0.1,
        reason="a look at everybody",
    )
    async with squad() as pair:
        await pair.press("q")
        await pair.press("p")
        await pair.press("/")
        await pair.type("knee right left extension 60")
        await pair.press("enter")
        assert "above the team's 0.1 %" in pair.text


async def test_a_pick_is_taken_back_where_people_are_chosen(squad):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("F")
        await pair.press("space down space")
        first, second = pair.room._before[-1], pair.room.asked
        await pair.press("u")
        assert pair.room.asked == first != second
        await pair.press("u u")
        assert "nothing was picked here yet" in pair.said


async def test_the_season_page_is_made_by_keys(squad, sample):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("P")
        assert pair.room.query_one("AskLine").text
        for _ in range(60):
            await pair.press("backspace")
        for answer in ("Skarvik rowers", "", ""):
            await pair.type(answer)
        assert pair.said.startswith("made: ")
        (path,) = (sample.path / "out").glob("season-*.pdf")
        assert path.read_bytes().startswith(b"%PDF")
        await pair.press("P")
        for _ in range(60):
            await pair.press("backspace")
        for answer in ("nobody", "", ""):
            await pair.type(answer)
        assert "squad 'nobody' has no athlete" in pair.said


async def test_an_error_is_typed_in_with_its_citation_and_taken_back(squad, sample):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("M")
        assert "typical error" in pair.text
        assert "no own repeated tests yet" in " ".join(pair.text.split())
        pair.room.body_region = ""
        await pair.press("a")
        for answer in ("", "", "knee", "6,5", "", "Invented 2031, J Tests 1:1"):
            await pair.type(answer)
        (kept,) = typed_errors(sample)
        assert (kept.record.family, kept.record.region, kept.record.value) == ("peak torque", "knee", 6.5)
        assert "Invented 2031" in pair.text
        await pair.press("escape")
        assert "typical error 6.5 %: Invented 2031" in " ".join(pair.room.shown.errors)
        await pair.press("M Z")
        assert typed_errors(sample) == []
        await pair.press("u")
        assert len(typed_errors(sample)) == 1


async def test_a_span_without_treatment_is_named_for_a_squad(squad, sample):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("M")
        pair.room.who = ""
        await pair.press("a")
        for _ in range(20):
            await pair.press("backspace")
        for answer in (
            "repeat",
            "Skarvik rowers",
            "2025-11-01",
            "2026-03-31",
            "no training in the off season",
        ):
            await pair.type(answer)
        (kept,) = repeat_spans(sample)
        assert (kept.record.kind, kept.record.squad) == ("repeat", "Skarvik rowers")
        assert "without treatment" in pair.text
        await pair.press("u")
        assert repeat_spans(sample) == []


async def test_an_error_that_cannot_be_is_one_line_and_nothing_is_kept(squad, sample):
    async with squad() as pair:
        await pair.press("q")
        await pair.press("M a")
        for answer in ("", "", ""):
            await pair.type(answer)
        await pair.type("much")
        assert "'much' is no number" in pair.said
        assert typed_errors(sample) == []
