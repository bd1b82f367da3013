"""One whole visit by keys alone at 80×24: opening check, two athletes, closing check, coach's page."""

import datetime as dt
import json

import pytest

from fieldlog.fieldwork.books import at_site
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.setup import Setup
from tests.screens.kept_text import assert_as_kept

MORNING = dt.datetime(2026, 5, 6, 8, 30, tzinfo=dt.timezone(dt.timedelta(hours=1)))
KEYS_A_POINT = 6


def shown(direction, reading_nm):
    """What the display shows: minus when pressed down, where readings count in the direction under test."""
    return f"{reading_nm}" if direction == "up" else f"{-reading_nm:+}"


async def arrive(hands):
    await hands.press("enter a enter")
    await hands.type("")
    await hands.press("enter enter enter enter enter enter")
    await hands.type("Kim; by the door; signal")
    await hands.press("enter")
    await hands.type("")
    await hands.press("enter")
    await hands.type("6,5")


async def take_check(hands, stage_key, body):
    await hands.press(f"{stage_key} enter")
    for direction in ("up", "down"):
        await hands.press("enter enter")
        await hands.type(shown(direction, body["tare"][f"{direction}_before_nm"]))
        asks = [ask for ask in hands.room.check.asks if ask.direction == direction and ask.kind == "point"]
        points = {
            (point["mass_kg"], point["run"]): point
            for point in body["torque"]
            if point["direction"] == direction
        }
        before = hands.pressed
        for ask in asks:
            await hands.type(str(points[ask.mass_kg, ask.run]["reading_nm"]))
        assert (hands.pressed - before) / len(asks) <= KEYS_A_POINT
        await hands.type(shown(direction, body["tare"][f"{direction}_after_nm"]))
    # What was last checked besides torque is asked again: the display's angle, the timer's speed.
    read = {("angle", round(point["reference_deg"])): point["reading_deg"] for point in body["angle"]}
    read |= {("speed", round(point["reading_deg_s"])): point["reference_deg_s"] for point in body["speed"]}
    for ask in [ask for ask in hands.room.check.asks if ask.may_be_passed_over]:
        await hands.type(str(read.get((ask.kind, round(ask.nominal)), "")))


async def test_athlete(hands, code, mass):
    """Clearance, setup and one set of each speed."""
    if hands.room.query_one("AskLine").display:
        await hands.type(mass)
    await hands.press("c")
    await hands.press("down enter")
    await hands.type("0")
    while hands.room.query_one("#questions").row_key != "outcome":
        row = hands.room.query_one("#questions").row_key
        if row == "last_hard_session_h":
            await hands.press("enter")
            await hands.type("48")
        elif row.endswith("mmhg"):
            await hands.press("enter enter")
        else:
            await hands.press("-")
    await hands.press("enter space")
    steps, before = len(hands.room.plan.steps), hands.pressed
    while type(hands.room).__name__ == "SetupRoom":
        await hands.press("space")
    assert hands.pressed - before <= 2 * steps
    for speed in ("060", "120"):
        await hands.press("i /")
        await hands.type(f"{code}_trunk_{speed}")
        await hands.press("enter")
        assert "N·m" in hands.text
        await hands.press("enter")
        await hands.press("enter")


test_athlete.__test__ = False


@pytest.fixture
def checks(sample):
    folder = sample.path / "recordings"
    return {
        stage: json.loads((folder / f"2026-05-06_{stage}.json").read_text())
        for stage in ("opening", "closing")
    }


class Count:
    """Counts the keys of each part of a visit."""

    def __init__(self, hands):
        self.hands, self.parts, self.until = hands, [], hands.pressed

    def note(self, part):
        self.parts.append((part, self.hands.pressed - self.until))
        self.until = self.hands.pressed

    @property
    def lines(self):
        total = sum(keys for _, keys in self.parts)
        return [f"{part:<16} {keys:4} keys" for part, keys in (*self.parts, ("the whole visit", total))]


async def test_a_whole_visit_is_done_by_keys(hands, sample, checks):
    async with hands(sample, start=MORNING) as pair:
        count = Count(pair)
        await arrive(pair)
        count.note("arrive")
        assert "1 arrive ✓" in pair.text

        await take_check(pair, "2", checks["opening"])
        assert "✓ pass" in pair.text
        await pair.press("enter")
        assert "opening check pass" in pair.text
        count.note("opening check")

        await pair.press("3 enter")
        await pair.press("/")
        await pair.type("trunk standing")
        await pair.press("enter")
        for code in ("R01", "R07"):
            await pair.press("/")
            await pair.type(code)
            await pair.press("space escape")
        await pair.press("enter")
        assert "R07" in pair.text
        count.note("batch of two")

        await pair.press(">")
        await test_athlete(pair, "R01", "88,5")
        count.note("athlete R01")
        await pair.press(">")
        before = pair.pressed
        await test_athlete(pair, "R07", "79,6")
        keys_for_an_athlete = pair.pressed - before
        count.note("athlete R07")
        await pair.press("escape")

        await take_check(pair, "4", checks["closing"])
        count.note("closing check")
        await pair.press("enter 5 enter")
        assert "coach-" in pair.said
        count.note("coach's sheet")

        store = sample.site_named("Skarvik boathouse")
        today = dt.date(2026, 5, 6)
        sets = [kept.record for kept in at_site(store, EffortSet).all() if kept.record.at.date() == today]
        assert sorted((record.speed_deg_s, record.standing) for record in sets) == [
            (60.0, "counted"),
            (60.0, "counted"),
            (120.0, "counted"),
            (120.0, "counted"),
        ]
        assert not any(record.without_clearance for record in sets)
        stages = [
            kept.record.stage for kept in at_site(store, RigCheck).all() if kept.record.at.date() == today
        ]
        assert sorted(stages) == ["closing", "opening"]
        assert len([kept for kept in at_site(store, Setup).all() if kept.record.at.date() == today]) == 2
        assert [
            kept.record.kind
            for kept in at_site(store, IssuedSheet).all()
            if kept.record.visit_id == pair.room.visit.id
        ] == ["coach"]
        page = next((sample.path / "out").glob("coach-*.pdf"))
        assert page.read_bytes().startswith(b"%PDF")
        assert keys_for_an_athlete <= 110
        print(*count.lines, sep="\n")
        assert_as_kept("visit_by_keys.txt", "\n".join(count.lines))
