"""Standards and tolerance sets by keys, from the rig log."""

import datetime as dt

from fieldlog.fieldwork.rig_checks.standards import standards_of
from fieldlog.fieldwork.rig_checks.tolerance_book import team_tolerance_sets

MORNING = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))


async def clear_and_type(pair, text):
    for _ in range(30):
        await pair.press("backspace")
    await pair.type(text)


async def test_a_certificate_is_renewed(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await pair.press("l h")
        assert "mass 5 kg" in pair.text
        assert "invented-5, to 27 May 2026" in pair.text
        await pair.press("enter")
        while pair.room.query_one("#fields").row_key != "due_on":
            await pair.press("down")
        await pair.press("enter")
        await clear_and_type(pair, "2028-05-27")
        assert "1 changed, not saved yet" in pair.text
        await pair.press("end enter")
        assert "saved: mass 5 kg" in pair.said
        await pair.press("escape")
        assert "invented-5, to 27 May 2028" in pair.text
        await pair.press("u")
        assert "invented-5, to 27 May 2026" in pair.text


async def test_a_standard_is_added_and_a_wrong_field_is_named(hands, sample):
    before = len(standards_of(sample))
    async with hands(sample, start=MORNING) as pair:
        await pair.press("l h a enter")
        await pair.type("plate [red]")
        await pair.press("down enter")
        await pair.type("zwanzig")
        await pair.press("end enter")
        assert "zwanzig" in pair.said
        await pair.press("up")
        while pair.room.query_one("#fields").row_key != "nominal":
            await pair.press("up")
        await pair.press("enter")
        await clear_and_type(pair, "20,0")
        await pair.press("end enter")
        assert "saved: plate [red]" in pair.said
        await pair.press("escape")
        assert "no certificate" in pair.text
    found = {kept.record.name: kept.record for kept in standards_of(sample)}
    assert len(found) == before + 1
    assert (found["plate [red]"].nominal, found["plate [red]"].kind) == (20.0, "mass")


async def test_what_was_typed_and_not_saved_is_there_again(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await pair.press("l h a enter")
        await pair.type("lever 3")
        await pair.press("escape a")
        assert "lever 3" in pair.text
        assert "1 changed, not saved yet" in pair.text


async def test_a_tolerance_set_is_changed_with_a_reason_as_a_new_version(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await pair.press("l h")
        await pair.press("tab")
        while pair.room.query_one("#sets").row_key != "field":
            await pair.press("down")
        await pair.press("enter enter")
        await clear_and_type(pair, "1,5")
        await pair.press("end enter")
        assert "no reason given" in pair.said
        await pair.press("up enter")
        await pair.type("better masses")
        await pair.press("end enter")
        assert "saved: field, version 2" in pair.said
        assert "version 2 by Kim: better masses" in pair.text
    assert team_tolerance_sets(sample)["field"].limits.torque_pct == 1.5


async def test_a_new_tolerance_set_begins_from_the_field_set(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await pair.press("l h")
        await pair.press("tab a")
        await pair.type("youth camp")
        assert "tolerance set youth camp" in pair.text
        await pair.press("end up enter")
        await pair.type("one visit")
        await pair.press("end enter")
        assert "version 1" in pair.said
        await pair.press("escape a")
        await pair.type("youth camp")
        assert "already" in pair.said
