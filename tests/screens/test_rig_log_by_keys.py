"""The rig log by keys: charts, sentences, sign-off, events, rules; the failed closing check to a reissued sheet."""

import datetime as dt

import pytest

from fieldlog.fieldwork.books import at_site, everywhere
from fieldlog.fieldwork.results.decisions import sign_offs
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig, save_check
from fieldlog.fieldwork.rig_life.rigs import ensure_rig, events_of, rig_named
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.records.check_entry import CheckEntry
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.records.review import Review
from fieldlog.screens.sheets import make_page
from tests.simulation.rig import Place, SimulatedRig, check_entry

START = dt.datetime(2031, 5, 4, 7, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))
MORNING = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))


async def open_log(pair):
    await pair.press("l")
    assert type(pair.room).__name__ == "RigLogRoom"


async def test_the_log_says_what_it_must_at_80_by_24(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        for words in (
            "rig A · 9 checks at 3 sites",
            "not signed off",
            "slope, up, % from 1",
            "early limits, from 9 checks · chart 1 of 4",
            "tolerance",
            "upper",
            "centre",
            "● 11 Feb, Tarn academy: above the upper limit (rule 1)",
            "tolerance on 1",
            "(95 %: 10 May – 6 Jul)",
            "calibration due 18 Apr, overdue by 18 days",
            "21 Jan closing: 24 results suspect, 0 decided",
            "g sign off",
        ):
            assert words in pair.text, words


async def test_at_120_by_40_four_charts_are_shown(hands, sample):
    async with hands(sample, start=MORNING, size=(120, 40)) as pair:
        await open_log(pair)
        for title in ("▸slope, up", "zero, up", "slope, down", "zero, down"):
            assert title in pair.text
        await pair.press("]")
        assert "▸zero, up" in pair.text


async def test_the_figures_are_gone_through_and_single_points_are_one_key_deeper(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("]")
        assert "zero, up, N·m" in pair.text
        await pair.press("[ [")
        assert "zero, down, N·m" in pair.text
        await pair.press("p")
        assert "5 kg, up, % of 36.8 N·m" in pair.text
        assert "1 of 8" in pair.text
        await pair.press("p")
        assert "slope, up, % from 1" in pair.text


async def test_a_check_is_signed_off_by_name_with_a_remark_and_undone(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("end g")
        await pair.type("")  # Kim, who is at the keyboard
        await pair.type("points and weather looked at")
        assert "signed off by Kim" in pair.said
        assert "signed off to 12 Nov 2025" in pair.text
        ((check, (review,)),) = sign_offs(sample).items()
        assert (review.by, review.remark) == ("Kim", "points and weather looked at")
        assert check == checks_of_rig(sample, rig_named(sample, "rig A").record.id)[0].id
        await pair.press("u")
        assert sign_offs(sample) == {}


async def test_a_sign_off_is_asked_without_the_words_of_an_event_given_up(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("e")
        assert "power lost" in pair.text
        await pair.press("escape g")
        assert "signed off by:" in pair.text
        assert "power lost" not in pair.text


async def test_who_took_a_check_cannot_sign_it_off(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("g")
        for _ in "Kim":
            await pair.press("backspace")
        await pair.type("tester 1")
        await pair.type("mine")
        assert "tester 1 took this check and cannot sign it off" in pair.said
        assert sign_offs(sample) == {}


async def test_an_event_is_written_down_with_place_time_and_note(hands, sample):
    rig = rig_named(sample, "rig A").record
    before = len(events_of(sample, rig.id))
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("e")
        await pair.type("serv")
        await pair.type("")
        await pair.type("")
        await pair.type("yearly service")
        assert "rig serviced" in pair.said
        event = events_of(sample, rig.id)[-1]
        assert (event.kind, event.note, event.at.date()) == ("serviced", "yearly service", MORNING.date())
        assert "no drift line yet: 0 checks" in pair.text
        await pair.press("u")
        assert len(events_of(sample, rig.id)) == before


@pytest.mark.parametrize(
    ("answers", "said"),
    [(("x",), "no event"), (("moved", "nowhere"), "nowhere"), (("moved", "", "soon"), "no day and time")],
)
async def test_a_wrong_answer_about_an_event_is_named_and_nothing_is_kept(hands, sample, answers, said):
    rig = rig_named(sample, "rig A").record
    before = len(events_of(sample, rig.id))
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("e")
        for answer in answers:
            if answer:
                for _ in range(24):
                    await pair.press("backspace")
            await pair.type(answer)
        assert said in pair.said
    assert len(events_of(sample, rig.id)) == before


async def test_run_rules_are_chosen(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("R")
        assert "6 fourteen alternating" in pair.text
        await pair.type(" 2")
        assert "two of three in a row" in pair.text
        await pair.press("R")
        await pair.type(" 9")
        assert "no run rule '9'" in pair.said


async def test_two_rigs_are_compared_and_another_log_is_opened(hands, sample):
    ensure_rig(sample, "rig B", "tester 1")
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("C")
        await pair.type("")
        assert "rig B: no full check yet" in pair.text
        await pair.press("escape l")
        await pair.type("")
        assert "rig B · 0 checks at 0 sites" in pair.text
        assert "no check with two different masses yet" in pair.text


def check_of(name, at, slope=1.0, by="Ann"):
    body = check_entry(
        SimulatedRig(slope_up=slope, slope_down=slope, noise_nm=0.0),
        Place(60.2, 4.0),
        name=name,
        stage="opening",
        at=at.isoformat(),
        by=by,
    )
    return CheckEntry.model_validate(body)


async def test_rigs_that_disagree_at_a_shared_load_are_told(hands, workspace):
    store = workspace.site_named("Boathouse")
    for name, slope in (("rig A", 1.0), ("rig B", 1.05)):
        save_check(workspace, store, check_of(name, START, slope), today=START.date(), by="Ann")
    async with hands(workspace) as pair:
        await pair.press("l")
        await pair.press("C")
        await pair.type("")
        assert "of 6 disagree" in pair.text
        assert "disagree" in pair.rows("#loads")[-1]


async def test_names_that_look_like_markup_or_escapes_are_shown_as_they_are(hands, workspace):
    store = workspace.site_named("Boathouse")
    name = "rig [/bold] ${x}"
    save_check(workspace, store, check_of(name, START, by="Ann [/x]"), today=START.date(), by="Ann [/x]")
    async with hands(workspace) as pair:
        await pair.press("l")
        assert name in pair.text
        await pair.press("g")
        await pair.type("")
        await pair.type("seen [/y]")
        assert "signed off by Kim" in pair.said
        await pair.press("enter")
        assert "by Ann [/x]" in pair.text


async def test_a_failed_check_says_at_once_what_it_touches(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        for _ in range(5):
            await pair.press("down")
        await pair.press("enter")
        assert "24 results suspect, rig changed by +3.3 to +3.4 %: 24 small · t shows them" in pair.text
        await pair.press("t")
        assert type(pair.room).__name__ == "TouchedRoom"
        await pair.press("escape escape home enter")
        assert "t touched" not in pair.text


async def test_the_failed_closing_check_is_walked_through_to_a_reissued_sheet(hands, sample):
    store = sample.site_named("Lowfield hall")
    visit = find_visit(store, dt.date(2026, 1, 21)).record
    make_page(sample, store, visit, "coach", by="tester 2")
    async with hands(sample, start=MORNING) as pair:
        await pair.press("end")
        assert "24 results suspect" in pair.text
        await open_log(pair)
        await pair.press("t")
        assert "closing check 21 Jan fail" in pair.text
        assert "0 of 24 decided" in pair.text
        await pair.press("m enter")
        assert "open: release, correct, withhold, retest" in pair.said
        await pair.type("rel")
        await pair.type("lever clamp slipped, small beside the error of the test")
        assert "saved: released, 24 results, by Kim" in pair.said
        assert "24 of 24 decided" in pair.text
        assert "coach page" in pair.text
        await pair.press("tab")
        assert "24 × result released" in pair.text
        await pair.press("enter")
        assert pair.said.startswith("made anew")
        sheets = sorted(
            (kept.record for kept in at_site(store, IssuedSheet).all()), key=lambda each: each.revision
        )
        assert [(sheet.kind, sheet.revision) for sheet in sheets] == [("coach", 1), ("coach", 2)]
        assert f"take back {sheets[0].number} revision 1" in pair.said
        assert "none" in pair.text.split("sheets that need a reissue")[1]
        await pair.press("escape escape")
        assert "24 results suspect" not in pair.text
    reviews = [kept.record for _, kept in everywhere(sample, Review)]
    assert {(review.decision, review.by) for review in reviews} == {("released", "Kim")}


async def test_a_single_result_is_decided_and_undone(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("t")
        await pair.press("enter")
        await pair.type("withhold")
        await pair.type("not for this coach")
        assert "1 of 24 decided" in pair.text
        assert "withheld by Kim" in pair.text
        await pair.press("u")
        assert "0 of 24 decided" in pair.text
        await pair.press("enter")
        await pair.type("hide")
        assert "no choice" in pair.said


async def test_results_are_picked_and_filtered(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("t")
        await pair.press("space space")
        assert "2 picked" in pair.text
        await pair.press("enter")
        await pair.type("ret")
        await pair.type("ask again")
        assert "2 of 24 decided" in pair.text
        await pair.press("/")
        await pair.type("C05")
        assert len(pair.rows("#results")) == 24
        assert "C01" not in pair.text.split("why")[0].split("results under")[1].split("sheets that")[0][:600]


async def test_help_is_given_in_place(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_log(pair)
        await pair.press("?")
        assert "● one at which a run" in pair.text
        await pair.press("escape")
        assert type(pair.room).__name__ == "RigLogRoom"
