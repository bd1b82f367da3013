"""A held athlete is not started by any route; a retest costs at most two keys a step; what to dial in for the next."""

from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.clearance.clearances import clearance_today
from fieldlog.fieldwork.results.keep_set import gate_of
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.records.review import Review
from fieldlog.records.setup import Setup
from tests.screens.test_bench_by_keys import bench, clear  # noqa: F401 (a fixture)
from tests.screens.test_recordings_arrive import TWICE, arriving, until  # noqa: F401 (a fixture)


async def hold(pair):
    """An injury is said at the clearance."""
    await clear(pair)
    if type(pair.room).__name__ != "ClearanceRoom":
        await pair.press("c")
    await pair.press("home down down y")
    for row in pair.room.query_one("#questions").rows:
        if row.key == "pain_now":
            await pair.press("home down enter")
            await pair.type("0")
        elif row.key == "last_hard_session_h":
            pair.room.query_one("#questions").to_key(row.key)
            await pair.press("enter")
            await pair.type("48")
        elif row.key not in ("consent", "outcome", "injury") and not row.key.endswith("mmhg"):
            pair.room.query_one("#questions").to_key(row.key)
            await pair.press("-")
    await pair.press("end enter")
    assert "held: Injury" in pair.said
    await pair.press("escape")


async def set_up(pair):
    await pair.press("space")
    while type(pair.room).__name__ == "SetupRoom":
        await pair.press("space")


async def test_a_held_athlete_cannot_be_started_at_the_bench_by_import_or_by_watching(arriving):  # noqa: F811
    bench_ = arriving.open
    async with bench_() as pair:
        await bench_.sit_down(pair)
        await pair.type("88.5")
        await hold(pair)
        await set_up(pair)
        assert clearance_today(bench_.store, bench_.visit, bench_.ids[0]).outcome == "held"
        seat, row = pair.room.seat, pair.room.row
        gate = gate_of(seat, row.planned, row.place[0], pair.now)
        assert not gate.allowed
        assert gate.missing == (
            "held: only the decision of a named, qualified person lets the athlete go on",
        )
        assert "held" in pair.text
        assert "nothing is missing" not in pair.text

        await pair.press("i /")
        await pair.type("R01_trunk_060")
        await pair.press("enter")
        await pair.press("enter")
        assert "recorded without clearance, on no page" in pair.said, pair.text
        await pair.press("escape")

        await arriving.watch(pair)
        arriving.put(TWICE)
        await until(pair, lambda: len(sets_of(bench_.store, bench_.visit.id)) == 2, "taken in")

        kept = [each.record for each in sets_of(bench_.store, bench_.visit.id)]
        assert all(record.without_clearance for record in kept)
        results = ResultBook(pair.workspace).of_visit(bench_.store, bench_.visit.id)
        assert [result for result in results if result.record.athlete_id == bench_.ids[0]] == []


async def test_only_a_named_qualified_person_lets_the_held_athlete_go_on(bench):  # noqa: F811
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await hold(pair)
        await set_up(pair)
        for keys in ("u", "c end enter", "c y"):
            await pair.press(keys)
            assert clearance_today(bench.store, bench.visit, bench.ids[0]).outcome == "held", keys
            while type(pair.room).__name__ != "BenchRoom":
                await pair.press("escape")
        await pair.press("c j")
        await pair.type("Dr Example")
        await pair.type("team physician")
        await pair.type("go")
        assert clearance_today(bench.store, bench.visit, bench.ids[0]).outcome == "go"


async def test_a_retest_by_keys_alone_costs_at_most_two_keys_a_step(bench):  # noqa: F811
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        before = pair.pressed
        await pair.press("space")
        steps = len(pair.room.plan.steps)
        while type(pair.room).__name__ == "SetupRoom":
            await pair.press("space")
        assert pair.pressed - before <= 2 * steps
    (setup,) = [kept.record for kept in at_site(bench.store, Setup).find(visit_id=bench.visit.id)]
    assert len(setup.steps) == steps


async def test_the_dial_in_list_for_the_next_athlete_goes_from_what_stands_on_the_rig(bench):  # noqa: F811
    async with bench() as pair:
        await bench.sit_down(pair)
        await pair.type("88.5")
        await set_up(pair)
        assert "nothing to change" in pair.text
        await pair.press("> >")
        assert "R07" in pair.text
        rows = pair.room.query_one("#dial").rows
        assert rows
        changes = [row.cells[3].text for row in rows]
        assert any(change.startswith(("+", "−")) for change in changes)
        assert all("→" in row.cells[2] for row in rows)


async def test_what_was_recorded_without_clearance_counts_by_a_named_decision_with_a_reason_and_is_undone(
    arriving,  # noqa: F811
):
    bench_ = arriving.open
    async with bench_() as pair:
        await bench_.sit_down(pair)
        await pair.type("88.5")
        await hold(pair)
        await set_up(pair)
        await pair.press("i /")
        await pair.type("R01_trunk_060")
        await pair.press("enter")
        await pair.press("enter")
        assert "on no page; j: who decides that it counts" in pair.text, pair.text

        def counted():
            return len(ResultBook(pair.workspace).of_visit(bench_.store, bench_.visit.id))

        async def decide(who, why):
            await pair.press("j")
            await pair.type(who)
            await pair.type(why)

        await decide("Dr Example, team physician", "seen by me")
        assert "still held" in pair.said, pair.said
        assert counted() == 0
        await pair.press("escape c j")
        await pair.type("Dr Example")
        await pair.type("team physician")
        await pair.type("go")
        while type(pair.room).__name__ != "BenchRoom":
            await pair.press("escape")
        pair.room.query_one("#sets").to_key(
            next(
                row.key for row in pair.room.query_one("#sets").rows if "without clearance" in str(row.cells)
            )
        )
        await pair.press("enter")
        await pair.press("j")
        await pair.type("")
        assert "who decides: nothing was typed" in pair.said
        await pair.press("escape")
        await decide("Dr Example, team physician", "")
        assert "why it counts: nothing was typed" in pair.said
        await pair.press("escape")
        assert counted() == 0
        await decide("Dr Example, team physician", "seen by me before the set")
        assert "counts by decision of Dr Example, team physician" in pair.said, pair.said
        assert counted() == 2
        (kept,) = sets_of(bench_.store, bench_.visit.id)
        (review,) = at_site(bench_.store, Review).find(subject_id=kept.record.id)
        assert (review.record.by, review.record.remark) == (
            "Dr Example, team physician",
            "seen by me before the set",
        )
        assert bench_.store.history("sets", kept.record.id)[-1].why.startswith(
            "counts by decision of Dr Example"
        )
        await pair.press("u")
        assert counted() == 0
        assert at_site(bench_.store, Review).find(subject_id=kept.record.id) == []
