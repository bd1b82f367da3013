"""Cover of a result: what the checks before and after say of it."""

import datetime as dt
import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.fieldwork.results.cover import (
    COVER_WORDS,
    CheckFact,
    EventFact,
    checked_range_nm,
    cover_of,
    fact_of,
    not_for_use_since,
)
from fieldlog.fieldwork.rig_checks.check_judge import judge
from fieldlog.records.check_entry import CheckEntry
from tests.simulation.rig import Place, SimulatedRig, check_entry

ZONE = dt.timezone(dt.timedelta(hours=2))
_numbers = itertools.count()


def at(clock, day=4):
    return dt.datetime.fromisoformat(f"2031-05-{day:02d}T{clock}:00+02:00")


def check(clock, verdict="pass", stage="opening", state="as-found", day=4, site="hall", **more):
    return CheckFact(
        id=f"{stage} {day} {clock}",
        at=at(clock, day),
        site=site,
        stage=stage,
        state=state,
        verdict=verdict,
        **{"largest_reference_nm": {"up": 196.0}, "smallest_reference_nm": {"up": 24.0}, **more},
    )


def event(clock, kind, day=4):
    return EventFact(at(clock, day), kind)


def cover(*facts, clock="10:00", torque_nm=100.0, direction="up"):
    checks = [fact for fact in facts if isinstance(fact, CheckFact)]
    events = [fact for fact in facts if isinstance(fact, EventFact)]
    return cover_of(at(clock), direction, torque_nm, checks, events)


class TestOpening:
    def test_no_check_leaves_a_result_unverified(self):
        found = cover()
        assert (found.word, found.opening_id, found.closing_id) == ("unverified", None, None)
        assert "no check before it" in found.remark

    @pytest.mark.parametrize("verdict", ["pass", "conditional pass"])
    def test_a_good_check_before_makes_it_provisional(self, verdict):
        found = cover(check("08:00", verdict))
        assert (found.word, found.remark, found.opening_id) == ("provisional", "", "opening 4 08:00")

    @pytest.mark.parametrize("verdict", ["conditional fail", "fail"])
    def test_a_failed_check_before_covers_nothing(self, verdict):
        found = cover(check("08:00", verdict))
        assert found.word == "unverified"
        assert verdict in found.remark

    def test_yesterdays_check_covers_nothing_today(self):
        assert cover(check("08:00", day=3)).word == "unverified"

    def test_the_day_is_that_of_the_place_not_of_utc(self):
        # 00:30 local time is still the day before in UTC.
        assert cover(check("00:30"), clock="09:00").word == "provisional"
        in_utc = CheckFact("c", at("00:30").astimezone(dt.UTC), "hall", "opening", "as-found", "pass")
        assert cover(in_utc, clock="09:00").word == "provisional"

    def test_the_latest_check_before_counts(self):
        assert cover(check("08:00"), check("09:00", "fail", "interim")).word == "unverified"
        assert cover(check("08:00", "fail"), check("09:00", stage="interim")).word == "provisional"

    @pytest.mark.parametrize(
        "kind", ["moved", "knocked", "unit_changed", "power_lost", "adjusted", "serviced"]
    )
    def test_an_event_between_breaks_it_and_is_named(self, kind):
        found = cover(check("08:00"), event("09:00", kind))
        assert found.word == "unverified"
        assert f"rig {kind.replace('_', ' ')} since" in found.remark

    def test_an_interim_check_after_the_event_mends_it(self):
        assert (
            cover(check("08:00"), event("09:00", "knocked"), check("09:30", stage="interim")).word
            == "provisional"
        )

    def test_an_event_before_the_check_or_after_the_result_does_not_matter(self):
        assert cover(event("07:00", "moved"), check("08:00"), event("11:00", "moved")).word == "provisional"

    def test_an_event_noted_in_the_minute_of_the_check_led_to_it(self):
        assert cover(event("08:00", "unit_changed"), check("08:00")).word == "provisional"

    def test_an_event_noted_in_the_minute_of_the_result_counts_against_it(self):
        assert cover(check("08:00"), event("10:00", "knocked")).word == "unverified"

    def test_an_as_left_check_opens(self):
        assert cover(check("08:00", state="as-left")).word == "provisional"


class TestClosing:
    def test_a_good_closing_check_confirms(self):
        found = cover(check("08:00"), check("17:00", stage="closing"))
        assert (found.word, found.remark, found.closing_id) == ("confirmed", "", "closing 4 17:00")

    @pytest.mark.parametrize("verdict", ["conditional fail", "fail"])
    def test_a_failed_closing_check_makes_it_suspect(self, verdict):
        assert cover(check("08:00"), check("17:00", verdict, "closing")).word == "suspect"

    def test_a_failed_closing_check_makes_even_an_unopened_result_suspect(self):
        assert cover(check("17:00", "fail", "closing")).word == "suspect"

    def test_a_check_after_alone_confirms_nothing(self):
        found = cover(check("17:00", stage="closing"))
        assert (found.word, found.closing_id) == ("unverified", "closing 4 17:00")

    def test_a_forgotten_closing_check_is_closed_by_the_next_opening_and_says_so(self):
        found = cover(check("08:00"), check("08:00", day=11, site="other hall"))
        assert found.word == "confirmed"
        assert "no closing check" in found.remark
        assert cover(check("08:00"), check("08:00", "fail", day=11)).word == "suspect"

    def test_an_interim_check_closes_what_lies_before_it(self):
        assert (
            cover(check("08:00"), check("11:00", stage="interim"), check("17:00", "fail", "closing")).word
            == "confirmed"
        )

    @pytest.mark.parametrize("kind", ["adjusted", "serviced"])
    def test_after_an_adjustment_nothing_can_be_said_of_before(self, kind):
        for verdict in ("pass", "fail"):
            assert (
                cover(check("08:00"), event("12:00", kind), check("17:00", verdict, "closing")).word
                == "provisional"
            )

    def test_an_adjustment_in_the_minute_of_an_as_found_check_came_after_it(self):
        assert (
            cover(check("08:00"), check("17:00", stage="closing"), event("17:00", "adjusted")).word
            == "confirmed"
        )

    @pytest.mark.parametrize("kind", ["moved", "knocked", "unit_changed", "power_lost"])
    def test_other_events_after_the_result_do_not_stop_its_closing(self, kind):
        assert (
            cover(check("08:00"), event("12:00", kind), check("17:00", stage="closing")).word == "confirmed"
        )

    def test_as_left_checks_never_close(self):
        left = check("16:00", state="as-left", stage="closing")
        assert cover(check("08:00"), left).word == "provisional"
        assert cover(check("08:00"), left, check("17:00", "fail", "closing")).word == "suspect"

    def test_a_closing_check_at_the_very_minute_of_the_result_comes_after_it(self):
        assert cover(check("08:00"), check("10:00", stage="closing")).word == "confirmed"
        assert cover(check("10:00")).word == "provisional"


class TestRepeatOfAConditionalFail:
    FIRST = staticmethod(lambda: check("17:00", "conditional fail", "closing"))

    @pytest.mark.parametrize(
        ("second", "word"),
        [
            ("pass", "confirmed"),
            ("conditional pass", "confirmed"),
            ("conditional fail", "suspect"),
            ("fail", "suspect"),
        ],
    )
    def test_once_repeated_untouched_the_second_counts(self, second, word):
        found = cover(check("08:00"), self.FIRST(), check("17:10", second, "closing"))
        assert (found.word, found.closing_id) == (word, "closing 4 17:10")

    def test_a_third_does_not(self):
        third = check("17:20", "pass", "closing")
        assert (
            cover(check("08:00"), self.FIRST(), check("17:10", "conditional fail", "closing"), third).word
            == "suspect"
        )

    @pytest.mark.parametrize("kind", ["adjusted", "moved", "knocked", "power_lost"])
    def test_a_touched_rig_repeats_nothing(self, kind):
        assert (
            cover(check("08:00"), self.FIRST(), event("17:05", kind), check("17:10", "pass", "closing")).word
            == "suspect"
        )

    def test_the_next_morning_is_no_repeat(self):
        assert cover(check("08:00"), self.FIRST(), check("08:00", day=5)).word == "suspect"

    def test_another_place_is_no_repeat(self):
        assert cover(check("08:00"), self.FIRST(), check("19:00", site="other hall")).word == "suspect"

    def test_an_as_left_check_is_no_repeat(self):
        assert (
            cover(check("08:00"), self.FIRST(), check("17:10", state="as-left", stage="closing")).word
            == "suspect"
        )

    def test_a_plain_fail_is_not_repeated_away(self):
        assert (
            cover(check("08:00"), check("17:00", "fail", "closing"), check("17:10", stage="closing")).word
            == "suspect"
        )


class TestCheckedRange:
    @pytest.mark.parametrize(
        ("torque_nm", "beyond"),
        [
            (24.0, False),
            (23.9, True),
            (196.0, False),
            (235.2, False),
            (235.3, True),
            (-100.0, False),
            (None, False),
        ],
    )
    def test_a_result_may_reach_20_percent_above_the_masses_and_not_below(self, torque_nm, beyond):
        found = cover(check("08:00"), torque_nm=torque_nm)
        assert found.beyond_checked_range is beyond
        assert ("beyond the checked range" in found.remark) is beyond
        assert found.word == "provisional"

    def test_an_unchecked_direction_is_beyond_whatever_the_torque(self):
        assert cover(check("08:00"), direction="down").beyond_checked_range

    def test_remarks_stand_side_by_side(self):
        found = cover(check("08:00"), check("08:00", day=9), torque_nm=400.0)
        assert found.remark == "no closing check; closed by the next opening check; beyond the checked range"


def test_the_rigs_uncertainty_is_read_between_the_checked_torques():
    opening = check("08:00", uncertainty_nm={"up": ((20.0, 0.1), (100.0, 0.3))})
    values = [cover(opening, torque_nm=t).standard_uncertainty_nm for t in (10, 20, 60, 100, 200)]
    assert values == pytest.approx([0.1, 0.1, 0.2, 0.3, 0.6])
    assert cover(check("08:00")).standard_uncertainty_nm is None
    assert cover().standard_uncertainty_nm is None


def test_the_checked_range_tells_whether_masses_can_reach_a_torque():
    assert checked_range_nm(check("08:00"), "up") == (24.0, pytest.approx(235.2))
    assert checked_range_nm(check("08:00"), "down") is None


def test_a_failed_check_takes_the_rig_out_of_use_until_one_passes():
    first, second = check("08:00", "conditional fail"), check("09:00", "fail")
    assert not_for_use_since([]) is None
    assert not_for_use_since([second, first]) == first
    assert not_for_use_since([first, check("10:00", "conditional pass", state="as-left")]) is None
    assert not_for_use_since([check("07:00"), second]) == second


def test_facts_are_read_from_a_verdict():
    entry = CheckEntry.model_validate(
        check_entry(
            SimulatedRig(),
            Place(60.2, 4.0),
            name="rig A",
            stage="closing",
            at="2031-05-04T17:00:00+02:00",
            by="tester 1",
            masses_kg=(5, 10, 20),
        )
    )
    fact = fact_of("c1", at=entry.at, site="hall", stage=entry.stage, state=entry.state, judged=judge(entry))
    assert fact.good
    assert fact.largest_reference_nm["up"] == pytest.approx(98.18, abs=0.01)
    assert fact.smallest_reference_nm["down"] == pytest.approx(24.54, abs=0.01)
    assert [round(reference) for reference, _ in fact.uncertainty_nm["up"]] == [25, 49, 98]
    assert all(u > 0 for _, u in fact.uncertainty_nm["up"])


MINUTES = st.integers(0, 3 * 24 * 60)
CHECKS = st.lists(
    st.tuples(
        MINUTES,
        st.sampled_from(["pass", "conditional pass", "conditional fail", "fail"]),
        st.sampled_from(["opening", "interim", "closing"]),
        st.sampled_from(["as-found", "as-left"]),
    ),
    max_size=6,
)
EVENTS = st.lists(st.tuples(MINUTES, st.sampled_from(["moved", "adjusted", "knocked"])), max_size=3)


@settings(max_examples=200)
@given(CHECKS, EVENTS, MINUTES)
def test_whatever_happened_the_word_keeps_its_promise(checks, events, minute):
    start = at("00:00", 1)
    facts = [
        CheckFact(str(i), start + dt.timedelta(minutes=m), "hall", stage, state, verdict)
        for i, (m, verdict, stage, state) in enumerate(checks)
    ]
    happened = [EventFact(start + dt.timedelta(minutes=m), kind) for m, kind in events]
    moment = start + dt.timedelta(minutes=minute)
    found = cover_of(moment, "up", None, facts, happened)
    assert found.word in COVER_WORDS
    by_id = {fact.id: fact for fact in facts}
    if found.word in ("confirmed", "provisional"):
        opening = by_id[found.opening_id]
        assert opening.good
        assert opening.at <= moment
        assert not any(opening.at < each.at < moment for each in happened)
    if found.word in ("confirmed", "suspect"):
        closing = by_id[found.closing_id]
        assert closing.state == "as-found"
        assert closing.at >= moment
        assert closing.good is (found.word == "confirmed")
        assert not any(each.kind == "adjusted" and moment < each.at < closing.at for each in happened)
    assert cover_of(moment, "up", None, reversed(facts), reversed(happened)) == found or len(
        {fact.at for fact in facts}
    ) < len(facts)
