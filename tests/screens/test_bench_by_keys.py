"""At the bench: clearance, setup, recordings, leaving out, stops, and going on."""

import datetime as dt
import re

import pytest

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.batch.batches import make_batch
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.clearance.clearances import clearance_form, clearance_today, take_clearance
from fieldlog.fieldwork.clearance.stops import stops_today
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.fieldwork.setup.setups import last_setup, save_setup
from fieldlog.fieldwork.setup.walk import take_up_walk
from fieldlog.fieldwork.visit.day import choose_rig
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.setup import Setup, setup_id

MORNING = dt.datetime(2026, 5, 6, 8, 30, tzinfo=dt.timezone(dt.timedelta(hours=1)))
DAY = MORNING.date()


@pytest.fixture
def bench(hands, sample):
    """The bench with R01 of two athletes on the day of the raw recordings, body mass not yet known."""
    store = sample.site_named("Skarvik boathouse")
    visit = choose_rig(sample, store, ensure_visit(store, DAY, "t"), "rig A", "t").record
    ids = [athlete_named(sample, code).record.id for code in ("R01", "R07")]
    batch = make_batch(sample, store, visit, protocol_id="trunk_standing_60_120", athlete_ids=ids, by="t")

    def open_bench(**options):
        return hands(sample, start=MORNING, **options)

    async def sit_down(pair):
        from fieldlog.screens.bench import BenchRoom

        await pair.press("enter")
        pair.app.push_screen(BenchRoom(store, visit, batch.record.id, ids[0], site_name="Skarvik boathouse"))
        await pair.settle()

    open_bench.sit_down = sit_down
    open_bench.store, open_bench.visit, open_bench.ids = store, visit, ids
    return open_bench


async def clear(pair):
    await pair.press("c down enter")
    await pair.type("0")
    while pair.room.query_one("#questions").row_key != "outcome":
        row = pair.room.query_one("#questions").row_key
        if row == "last_hard_session_h":
            await pair.press("enter")
            await pair.type("48")
        elif row.endswith("mmhg"):
            await pair.press("enter enter")
        else:
            await pair.press("-")
    await pair.press("enter")


async def set_up(pair):
    await pair.press("space")
    while type(pair.room).__name__ == "SetupRoom":
        await pair.press("space")


async def be_ready(pair):
    """Body mass, clearance and setup are there, by the verbs the rooms call."""
    room = pair.room
    await pair.type("88.5")
    seat, athlete = room.seat, room.athlete
    answers = {}
    for item in clearance_form(pair.workspace).asked_of(minor=False):
        if item.kind == "yes_no":
            answers[item.key] = False
        elif item.must_answer:
            answers[item.key] = 48.0 if item.unit == "h" else 0.0
    take_clearance(pair.workspace, room.store, room.visit, athlete, answers, by="Kim", at=pair.app.clock())
    plan = catalogue.plan(pair.workspace, seat.protocol.plan_id)
    last = last_setup(pair.workspace, athlete.id, plan.id, "both", before=room.visit.date).record
    at = pair.app.clock()
    save_setup(
        pair.workspace,
        room.store,
        last.model_copy(
            update={
                "id": setup_id(room.visit.id, athlete.id, "both", plan.id, plan.version),
                "visit_id": room.visit.id,
                "at": at,
                "steps": tuple(step.model_copy(update={"at": at}) for step in last.steps),
            }
        ),
        by="Kim",
    )
    room.refresh_room()
    await pair.settle()


async def take_in(pair, name):
    await pair.press("i /")
    await pair.type(name)
    await pair.press("enter")


async def test_body_mass_is_asked_first_and_pounds_are_noticed(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        assert "body mass today in kg (last time 88.5)" in pair.text
        await pair.type("195")
        assert "pounds?" in pair.text
        await pair.press("backspace backspace backspace")
        await pair.type("88,5")
        assert "body mass 88.5 kg" in pair.text


async def test_everything_that_is_missing_before_a_set_stands_there(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        for word in ("no clearance today", "range stops", "straps"):
            assert word in pair.text
        await clear(pair)
        assert "✓ go" in pair.text
        assert "no clearance today" not in pair.text
        await set_up(pair)
        assert "nothing is missing" in pair.text


async def test_a_setup_that_comes_back_takes_one_key_a_step(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("space")
        steps, before = len(pair.room.plan.steps), pair.pressed
        while type(pair.room).__name__ == "SetupRoom":
            await pair.press("space")
        assert pair.pressed - before == steps
        assert "nothing to change" in pair.text


async def test_every_accepted_step_is_on_disk_and_can_be_undone(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("space space space space")
        place = pair.room.place
        assert len(take_up_walk(place).setup.steps) == 3
        await pair.press("u")
        assert len(take_up_walk(place).setup.steps) == 2
        await pair.press("escape")
        (setup,) = [kept.record for kept in at_site(bench.store, Setup).find(visit_id=bench.visit.id)]
        assert len(setup.steps) == 2


async def test_a_walk_cut_off_goes_on_where_it_was(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("space space space space")
        await pair.press("Q")
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.press("space")
        assert "taken up where it was left" in pair.said
        assert "3 of 30 steps" in pair.text


async def test_a_reading_off_last_time_asks_for_a_word_why(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("space space")
        await pair.type("-4")
        assert "why" in pair.text
        await pair.type("new stop block")
        await pair.press("escape")
        (setup,) = [kept.record for kept in at_site(bench.store, Setup).find(visit_id=bench.visit.id)]
        assert setup.reading("stop_low") == -4
        assert setup.taken("stop_low").why == "new stop block"


async def test_readings_take_units_and_refuse_what_is_off_the_scale(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("space")
        pair.room.query_one("#steps").to_key("axis_height")
        await pair.settle()
        await pair.type("1040mm")
        (setup,) = [kept.record for kept in at_site(bench.store, Setup).find(visit_id=bench.visit.id)]
        assert setup.reading("axis_height") == 104
        pair.room.query_one("#steps").to_key("axis_height")
        await pair.type("900")
        assert "off the scale" in pair.said


async def test_a_recording_is_shown_before_it_is_kept_and_nothing_is_kept_with_esc(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await take_in(pair, "R01_trunk_060")
        assert "not kept yet" in pair.text
        assert "264.0 N·m" in pair.text
        assert "torque over angle" in pair.text
        await pair.press("escape")
        assert sets_of(bench.store, bench.visit.id) == []


async def test_a_recording_without_clearance_is_kept_as_such_and_on_no_page(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await take_in(pair, "R01_trunk_060")
        await pair.press("enter")
        assert "without clearance" in pair.said
        (kept,) = sets_of(bench.store, bench.visit.id)
        assert kept.record.without_clearance


async def test_without_straps_confirmed_the_set_is_not_kept(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await clear(pair)
        await take_in(pair, "R01_trunk_060")
        await pair.press("enter")
        assert pair.said.startswith("not kept")
        assert "straps" in pair.said
        assert sets_of(bench.store, bench.visit.id) == []


async def test_a_repetition_left_out_stays_listed_with_its_reason(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await be_ready(pair)
        await take_in(pair, "R01_trunk_060")
        await pair.press("enter")
        await pair.press("x")
        await pair.type("2")
        (kept,) = sets_of(bench.store, bench.visit.id)
        assert [(entry.index, entry.reason) for entry in kept.record.left_out] == [(1, "slip")]
        assert kept.record.measures["set"]["up"]["movements"] == 4
        assert "left out: slip" in pair.text
        await pair.press("x")
        (kept,) = sets_of(bench.store, bench.visit.id)
        assert kept.record.left_out == ()


async def test_a_set_done_again_leaves_the_first_as_redone_and_undo_restores_it(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await be_ready(pair)
        for name in ("R01_trunk_060", "R02_trunk_060"):
            pair.room.query_one("#sets").to_key("both.2")
            await take_in(pair, name)
            await pair.press("enter")
            await pair.press("enter")
        assert [kept.record.standing for kept in sets_of(bench.store, bench.visit.id)] == [
            "redone",
            "counted",
        ]
        await pair.press("u")
        assert [kept.record.standing for kept in sets_of(bench.store, bench.visit.id)] == ["counted"]


async def test_the_same_file_twice_names_where_it_is(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        for _ in range(2):
            await take_in(pair, "R01_trunk_060")
            await pair.press("enter")
            await pair.press("escape")
        assert len(sets_of(bench.store, bench.visit.id)) == 1


@pytest.mark.parametrize("content", [b"", b"\x00\x01binary", b"time_s,angle_deg\n0,1\n", b"a;b\n1;2\n"])
async def test_a_file_that_is_no_recording_is_refused_in_one_line(bench, content):
    async with bench() as pair:
        (pair.workspace.path / "recordings" / "broken.csv").write_bytes(content)
        await bench.sit_down(pair)
        await pair.type("88.5")
        await take_in(pair, "broken.csv")
        assert "broken.csv" in pair.said
        assert type(pair.room).__name__ == "ImportRoom"


async def test_a_path_is_typed_with_completion(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("i i")
        await pair.type("2026-05-06_R01_trunk_0", enter=False)
        await pair.press("tab")
        await pair.type("")
        assert "2026-05-06_R01_trunk_060.csv" in pair.text


async def test_a_stop_is_written_down_and_says_what_follows(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("s")
        await pair.type("2")
        await pair.type("5")
        assert "do not restart today" in pair.said
        assert len(stops_today(bench.store, bench.visit, bench.ids[0])) == 1
        assert "stopped today" in pair.text


async def test_the_next_athlete_is_one_key_and_what_is_open_is_said_once(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press(">")
        assert "still to be done" in pair.said
        await pair.press(">")
        assert "R07" in pair.text


async def test_a_yes_holds_the_athlete_until_a_named_person_decides(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("c down enter")
        await pair.type("0")
        await pair.press("y")
        while pair.room.query_one("#questions").row_key != "outcome":
            row = pair.room.query_one("#questions").row_key
            if row == "last_hard_session_h":
                await pair.press("enter")
                await pair.type("48")
            elif row.endswith("mmhg"):
                await pair.press("enter enter")
            else:
                await pair.press("-")
        await pair.press("enter")
        assert "held: Injury" in pair.said
        assert clearance_today(bench.store, bench.visit, bench.ids[0]).outcome == "held"
        await pair.press("j")
        await pair.type("Dr Invented")
        await pair.type("")
        assert "qualification of Dr Invented: nothing was typed" in pair.said
        await pair.type("physician")
        await pair.type("submaximal only, no jumps")
        assert clearance_today(bench.store, bench.visit, bench.ids[0]).outcome == "limits"


async def test_half_given_answers_are_there_again_but_never_on_disk_outside_the_persons_files(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await pair.press("c down enter")
        await pair.type("0")
        await pair.press("- - escape c")
        assert "3 of 12 answered" in pair.text
        drafts = pair.workspace.path / "drafts"
        assert not drafts.exists() or not list(drafts.iterdir())


async def test_the_rest_counts_down_after_a_set(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await be_ready(pair)
        await take_in(pair, "R01_trunk_060")
        await pair.press("enter")
        await pair.press("enter")
        assert "rest 1:" in pair.text or "rest 0:" in pair.text
        await pair.press(">")
        assert "resting" in pair.said


async def test_a_knee_is_weighed_with_a_sweep_and_a_wrong_one_is_refused(hands, sample):
    from fieldlog.screens.bench import BenchRoom

    store = sample.site_named("Skarvik boathouse")
    visit = choose_rig(sample, store, ensure_visit(store, DAY, "t"), "rig A", "t").record
    athlete_id = athlete_named(sample, "R03").record.id
    batch = make_batch(sample, store, visit, protocol_id="knee_60_180", athlete_ids=[athlete_id], by="t")
    async with hands(sample, start=MORNING) as pair:
        pair.app.push_screen(BenchRoom(store, visit, batch.record.id, athlete_id, site_name="Skarvik"))
        await pair.settle()
        await pair.type("93.4")
        side = pair.room.row.place[0]
        await pair.press("w /")
        await pair.type(f"R03_knee_{side}_sweep")
        await pair.press("enter")
        assert "weighed 2026-05-06_R03_knee" in pair.text
        await take_in(pair, f"R03_knee_{side}_060")
        assert "No weight torque" not in pair.text


async def test_a_set_is_typed_where_no_file_can_be_had(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await be_ready(pair)
        await pair.press("T")
        assert "flexion, peak torques in N·m" in pair.text
        await pair.type("240,5 250 x")
        assert "repetition 2" in pair.said
        await pair.press("backspace backspace")
        await pair.type(" 245")
        pair.room.query_one("LineInput").take_paste("330\n340,5\n335\n")
        await pair.press("enter")
        assert "not kept yet" in pair.text
        assert "no recording: no curve" in pair.text
        assert "340.5 N·m" in pair.text
        await pair.press("enter")
        (kept,) = sets_of(bench.store, bench.visit.id)
        assert kept.record.measures["set"]["up"]["best_peak_torque_nm"] == 250
        assert "typed" in pair.text
        await pair.press("u")
        assert sets_of(bench.store, bench.visit.id) == []


async def test_a_kept_recording_is_measured_again_with_other_options_and_a_reason(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await be_ready(pair)
        await take_in(pair, "R01_trunk_060")
        await pair.press("A")
        assert "keep the set first" in pair.said
        await pair.press("enter")
        before = sets_of(bench.store, bench.visit.id)[0].record.measures
        await pair.press("A enter")
        await pair.press("backspace backspace")
        await pair.type("6")
        await pair.press("end enter")
        assert "without a reason" in pair.said
        await pair.press("up enter")
        await pair.type("noise of the motor")
        await pair.press("enter")
        assert pair.said.startswith("saved: flexion 264.0")
        (kept,) = sets_of(bench.store, bench.visit.id)
        assert kept.record.measures["recipe"]["cutoff_hz"] == 6
        assert kept.record.measures["set"] != before["set"]
        assert kept.revision.why == "noise of the motor"
        await pair.press("escape")
        assert type(pair.room).__name__ == "SetRoom"
        await pair.press("u")
        assert sets_of(bench.store, bench.visit.id)[0].record.measures == before


async def test_what_the_sets_give_together_is_one_key_from_the_bench_and_the_set(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await be_ready(pair)
        await pair.press("O")
        assert "it takes two modes at one speed, or three speeds" in pair.text
        await pair.press("escape")
        assert type(pair.room).__name__ == "BenchRoom"
        await take_in(pair, "R01_trunk_060")
        await pair.press("O")
        assert "R01 · across sets" in pair.text


async def test_left_and_right_read_the_curve_of_a_set(bench):
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await take_in(pair, "R01_trunk_060")
        await pair.press("right")
        assert "°" in pair.room.query_one("#curve").read_out
        await pair.press("o o")
        assert pair.room.query_one("#curve").read_out == ""
        await pair.press("left")
        assert re.match(r"at \d+\.\d\d s", pair.room.query_one("#curve").read_out)
