"""A new athlete's setup by keys: crest height asked, landmark recorded, where to start shown and never dialled blind."""

import dataclasses
import datetime as dt

import pytest

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.batch.batches import make_batch
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.setup.plan_editing import PlanDraft, save_draft
from fieldlog.fieldwork.setup.setups import save_step
from fieldlog.fieldwork.visit.day import choose_rig
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.setup import Setup, StepTaken
from tests.screens.conftest import START
from tests.screens.kept_text import assert_as_kept

PLAN = catalogue.shipped_plans()["trunk_standing"]
EARLIER = START - dt.timedelta(days=100)


@pytest.fixture
def newcomer(workspace):
    """A new athlete in today's batch."""
    store = workspace.site_named("Boathouse")
    visit = choose_rig(workspace, store, ensure_visit(store, START.date(), "t"), "rig A", "t").record
    athlete = add_athlete(workspace, "N01", by="t").record
    make_batch(workspace, store, visit, protocol_id="trunk_standing_60_120", athlete_ids=[athlete.id], by="t")
    return store, visit, athlete


def own_setups(workspace, store, how_many):
    """The team's own earlier setups: a plate that falls with the crest height."""
    visit = ensure_visit(store, EARLIER.date(), "t").record
    for number in range(how_many):
        athlete = add_athlete(workspace, f"T{number:02}", by="t").record
        crest = 90.0 + number
        wobble = (0.0, 0.5, -0.5)[number % 3]
        for key, value in (("crest_height", crest), ("foot_plate", 140.0 - crest + wobble)):
            save_step(
                workspace,
                store,
                visit,
                athlete_id=athlete.id,
                plan=PLAN,
                side="both",
                taken=StepTaken(key=key, reading=value),
                by="t",
                at=EARLIER,
            )


async def walk_to(pair, key, *, axis="104", crest="98", landmark="1"):
    """Answer every step before ``key``."""
    while pair.room._step.key != key:
        step = pair.room._step
        if step.kind == "confirm":
            await pair.press("space")
        elif step.key == "axis_landmark":
            await pair.type(landmark)
        elif step.key in ("axis_height", "crest_height"):
            await pair.type(axis if step.key == "axis_height" else crest)
        elif step.optional:
            await pair.press("x")
        else:
            await pair.type(f"{max(step.low, 0):g}")


async def open_walk(pair):
    await pair.press("enter 3 enter")
    await pair.type("80")
    await pair.press("space")


def plate(store, visit):
    (setup,) = [kept.record for kept in at_site(store, Setup).find(visit_id=visit.id)]
    return setup.reading("foot_plate")


async def test_the_crest_rule_is_shown_and_enter_takes_it_only_once_it_was_looked_at(
    hands, workspace, newcomer
):
    store, visit, _ = newcomer
    async with hands(workspace) as pair:
        await open_walk(pair)
        await walk_to(pair, "foot_plate")
        # 104 − 98 + 3.5, common practice
        assert "9.5 cm, from the crest height (common practice)" in " ".join(pair.text.split())
        assert "confirm by eye" in " ".join(pair.text.split())
        await pair.press("space")
        assert pair.room._step.key == "foot_plate"
        assert pair.room.query_one("#steps").typed == "9.5"
        assert "enter takes it" in pair.said
        await pair.press("backspace backspace backspace")
        await pair.type("10,5")
        assert pair.room._step.key == "thigh_support"
        await pair.press("escape")
        assert plate(store, visit) == 10.5


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_teams_own_line_is_shown_with_its_interval(hands, workspace, newcomer, size):
    store, _, _ = newcomer
    own_setups(workspace, store, 12)
    async with hands(workspace, size=size) as pair:
        await open_walk(pair)
        await walk_to(pair, "foot_plate")
        assert "from 12 setups" in pair.text
        assert " ± " in pair.text
        assert_as_kept(f"setup_start_{size[0]}x{size[1]}.txt", pair.text)


async def test_for_another_landmark_the_crest_rule_gives_nothing_and_says_so(hands, workspace, newcomer):
    async with hands(workspace) as pair:
        await open_walk(pair)
        await walk_to(pair, "foot_plate", landmark="2")
        assert "from the crest height" not in pair.text
        await pair.press("space")
        assert "no reading to accept" in pair.said
    (setup,) = [kept.record for kept in at_site(newcomer[0], Setup).find(visit_id=newcomer[1].id)]
    assert setup.steps


async def test_a_height_that_leads_off_the_scale_says_why_there_is_no_start(hands, workspace, newcomer):
    async with hands(workspace) as pair:
        await open_walk(pair)
        await walk_to(pair, "foot_plate", axis="70", crest="120")
        assert "no starting value from the crest height" in pair.said
        assert "off the scale" in pair.said


async def test_a_plan_that_changed_between_visits_says_what_no_longer_compares(hands, workspace, newcomer):
    store, _, athlete = newcomer
    earlier = ensure_visit(store, EARLIER.date(), "t").record
    for key, value in (("foot_plate", 41.0), ("seat_pad", 6.0)):
        save_step(
            workspace,
            store,
            earlier,
            athlete_id=athlete.id,
            plan=PLAN,
            side="both",
            taken=StepTaken(key=key, reading=value),
            by="t",
            at=EARLIER,
        )
    draft = PlanDraft.of(PLAN)
    steps = [
        step.model_copy(update={"low": 5.0}) if step.key == "foot_plate" else step for step in draft.parts
    ]
    save_draft(workspace, dataclasses.replace(draft, parts=tuple(steps)), by="lead", why="new plate")
    async with hands(workspace) as pair:
        await open_walk(pair)
        assert "last time under version 1 of the plan; no longer compares: Foot plate" in pair.said
        pair.room.query_one("#steps").to_key("foot_plate")
        await pair.settle()
        assert "41 under version 1 of the plan does not compare" in " ".join(pair.text.split())
        rows = {row.key: row for row in pair.room.query_one("#steps").rows}
        assert "6.0 cm" in rows["seat_pad"].cells[1]
        assert rows["foot_plate"].cells[1] == "–"
