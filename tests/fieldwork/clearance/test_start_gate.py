"""No set starts without clearance, safeguards and a rig in use: each is taken away once, and the gate shuts."""

import datetime as dt

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.person_entries import record_consent
from fieldlog.fieldwork.clearance.clearances import decide_clearance, take_clearance
from fieldlog.fieldwork.clearance.start_gate import StartGate, may_start
from fieldlog.fieldwork.clearance.stops import log_stop, release_stop, stops_today
from fieldlog.fieldwork.setup import setups
from fieldlog.records.rig import RigEvent
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.setup import StepTaken
from fieldlog.store.lines import Change
from fieldlog.store.repo import Repo
from tests.fieldwork.bodies import judged
from tests.fieldwork.clearance.answers import CLEAR, MINOR

PROTOCOL = catalogue.shipped_protocols()["knee_60_180"]
PLAN = catalogue.shipped_plans()["knee"]
RIG = "rig-a"


def cleared(field, athlete=None, answers=None):
    athlete = athlete or field.adult
    record_consent(
        field.workspace,
        athlete.id,
        given_on=dt.date(2031, 1, 1),
        valid_until=None,
        wording="2031-1",
        by_guardian=athlete.minor,
        by="tester",
        at=field.clock("08:00"),
    )
    kept, _ = take_clearance(
        field.workspace,
        field.store,
        field.visit,
        athlete,
        answers or (MINOR if athlete.minor else CLEAR),
        by="tester",
        at=field.clock("09:00"),
    )
    return kept


def safeguarded(field, *, at="09:05", side="right", athlete=None, plan=PLAN, without=()):
    for step in plan.safeguards:
        if step.safeguard not in without:
            setups.save_step(
                field.workspace,
                field.store,
                field.visit,
                athlete_id=(athlete or field.adult).id,
                plan=plan,
                side=side,
                taken=StepTaken(key=step.key, confirmed=True),
                by="tester",
                at=field.clock(at),
                rig_id=RIG,
            )


def gate(field, *, at="09:10", side="right", athlete=None, planned=None, protocol=PROTOCOL):
    return may_start(
        field.workspace,
        field.store,
        field.visit,
        athlete_id=(athlete or field.adult).id,
        protocol=protocol,
        planned=planned or protocol.sets[1],
        side=side,
        now=field.clock(at),
        rig_id=RIG,
    )


def test_with_clearance_and_all_safeguards_a_set_may_start(field):
    cleared(field)
    safeguarded(field)
    assert gate(field) == StartGate(allowed=True, missing=())


def test_with_nothing_done_everything_missing_is_named_at_once(field):
    missing = gate(field).missing
    assert missing[0] == "no clearance today"
    assert len(missing) == 5
    assert not gate(field).allowed


@pytest.mark.parametrize(
    ("safeguard", "words"),
    [
        ("range_stops", "range stops set and locked"),
        ("passive_trial", "range tried passively"),
        ("stop_switch", "stop switch tried and held"),
        ("straps", "straps checked"),
    ],
)
def test_each_safeguard_alone_shuts_the_gate(field, safeguard, words):
    cleared(field)
    safeguarded(field, without=(safeguard,))
    assert gate(field).missing == (f"not confirmed: {words}",)


def test_a_held_athlete_cannot_start(field):
    kept = cleared(field, answers={**CLEAR, "injury": True})
    safeguarded(field)
    assert gate(field).missing == (
        "held: only the decision of a named, qualified person lets the athlete go on",
    )
    decide_clearance(
        field.workspace,
        field.store,
        kept,
        "go",
        decided_by="N. Invented",
        decided_role="physician",
        by="tester",
        at=field.clock("09:08"),
    )
    assert gate(field).allowed


def test_limits_are_kept_at_the_gate(field):
    kept = cleared(field, answers={**CLEAR, "injury": True})
    safeguarded(field)
    decide_clearance(
        field.workspace,
        field.store,
        kept,
        "limits",
        decided_by="N. Invented",
        decided_role="physician",
        by="tester",
        at=field.clock("09:08"),
        limits="easy efforts",
        limit_rules=["submaximal only"],
    )
    assert gate(field).missing == ("limits today: submaximal only",)
    assert gate(field, planned=PROTOCOL.sets[0]).allowed


def test_yesterdays_clearance_is_none(field):
    cleared(field)
    safeguarded(field)
    field.visit = field.visit_on(field.visit.date + dt.timedelta(days=1))
    safeguarded(field)
    assert "no clearance today" in gate(field).missing


def test_the_other_side_needs_its_own_safeguards_and_so_does_the_way_back(field):
    cleared(field)
    safeguarded(field, side="right", at="09:05")
    assert gate(field, side="right").allowed
    assert not gate(field, side="left").allowed
    safeguarded(field, side="left", at="09:20")
    assert gate(field, side="left", at="09:25").allowed
    back = gate(field, side="right", at="09:25")
    assert len(back.missing) == 4
    assert all(text.startswith("confirm again, the rig was changed since") for text in back.missing)
    safeguarded(field, side="right", at="09:30")
    assert gate(field, side="right", at="09:35").allowed


def test_another_athlete_on_the_rig_in_between_means_trying_again(field):
    cleared(field)
    safeguarded(field, at="09:05")
    safeguarded(field, at="09:30", athlete=field.minor)
    assert not gate(field, at="09:40").allowed


def test_a_changed_plan_means_trying_again(field):
    cleared(field)
    safeguarded(field)
    newer = catalogue.save_plan(
        field.workspace, PLAN.model_copy(update={"name": "Knee, our way"}), by="lead"
    ).record
    assert len(gate(field).missing) == 4
    safeguarded(field, plan=newer, at="09:08")
    assert gate(field).allowed


@pytest.mark.parametrize("kind", ["moved", "knocked", "unit_changed", "power_lost", "adjusted", "serviced"])
def test_anything_that_happens_to_the_rig_means_trying_again(field, kind):
    cleared(field)
    safeguarded(field, at="09:05")
    event = RigEvent(id="e", rig_id=RIG, at=field.clock("09:07"), kind=kind)
    Repo(field.store, RigEvent).save(event, by="tester")
    assert not gate(field).allowed
    safeguarded(field, at="09:09")
    assert gate(field).allowed


def a_check(field, verdict, at):
    entry = {
        "rig": "A",
        "stage": "interim",
        "at": field.clock(at).isoformat(),
        "by": "tester",
        "place": {"latitude_deg": 60, "height_m": 4},
        "torque": [{"mass_kg": 10, "arm_m": 0.5, "direction": "up", "run": "loading", "reading_nm": 49.0}],
        "zero": {"before_nm": 0, "after_nm": 0},
        "tolerance": "field",
    }
    check = RigCheck.from_body(
        {
            "id": f"check{at.replace(':', '')}",
            "visit_id": field.visit.id,
            "site_id": "site01",
            "rig_id": RIG,
            "stage": "interim",
            "state": "as-found",
            "at": entry["at"],
            "by": "tester",
            "entry": entry,
            "verdict": verdict,
            "judged": judged(verdict),
        }
    )
    Repo(field.store, RigCheck).save(check, by="tester")


def test_a_rig_whose_check_failed_is_not_for_use_until_one_passes(field):
    cleared(field)
    safeguarded(field)
    a_check(field, "fail", "08:30")
    assert gate(field).missing == ("rig not for use: interim check of 4 May 08:30 is fail",)
    a_check(field, "pass", "08:50")
    assert gate(field).allowed


def test_after_a_stop_for_pain_nobody_restarts_without_a_named_person(field):
    cleared(field)
    safeguarded(field)
    kept, advice = log_stop(
        field.workspace,
        field.store,
        field.visit,
        athlete_id=field.adult.id,
        reason="pain",
        pain=5,
        by="tester",
        at=field.clock("09:07"),
    )
    assert advice.text == "stop; do not restart today without a named person"
    assert gate(field).missing == (
        "stopped today: no restart without the decision of a named, qualified person",
    )
    field.store.undo("stops", kept.record.id, by="tester")
    assert not gate(field).allowed
    stop = stops_today(field.store, field.visit, field.adult.id)[0]
    with pytest.raises(RefusedError, match="name and the qualification"):
        release_stop(field.store, stop, released_by=" ", released_role="", by="t", at=field.clock("09:09"))
    with pytest.raises(InputError, match="dated before"):
        release_stop(
            field.store, stop, released_by="N", released_role="physician", by="t", at=field.clock("09:01")
        )
    release_stop(
        field.store,
        stop,
        released_by="N. Invented",
        released_role="physician",
        by="tester",
        at=field.clock("09:09"),
    )
    assert gate(field).allowed


def test_a_stop_on_request_is_logged_and_holds_nothing(field):
    cleared(field)
    safeguarded(field)
    for minute in (6, 7):
        log_stop(
            field.workspace,
            field.store,
            field.visit,
            athlete_id=field.adult.id,
            reason="request",
            by="tester",
            at=field.clock(f"09:0{minute}"),
        )
    assert [stop.kind for stop in stops_today(field.store, field.visit, field.adult.id)] == ["athlete"] * 2
    assert gate(field).allowed


def test_what_hurt_is_in_no_record(field):
    cleared(field)
    log_stop(
        field.workspace,
        field.store,
        field.visit,
        athlete_id=field.adult.id,
        reason="dizzy or chest",
        by="tester",
        at=field.clock("09:07"),
        note="felt dizzy",
    )
    field.store.seal()
    text = b"".join(path.read_bytes() for path in field.store.path.rglob("*.jsonl"))
    assert b"dizzy" not in text


def test_eccentric_is_not_maximal_at_a_first_visit(field):
    cleared(field)
    safeguarded(field)
    eccentric = catalogue.shipped_protocols()["knee_eccentric_60"]
    maximal = next(each for each in eccentric.sets if each.effort == "maximal")
    shut = gate(field, protocol=eccentric, planned=maximal)
    assert shut.missing == ("no maximal eccentric effort at a first visit",)
    assert gate(field, protocol=eccentric, planned=eccentric.sets[1]).allowed


def test_a_minor_goes_through_the_same_gate_with_rules_of_their_own(field):
    cleared(field, field.minor)
    safeguarded(field, athlete=field.minor)
    assert gate(field, athlete=field.minor).allowed
    straight_in = PROTOCOL.model_copy(update={"sets": PROTOCOL.sets[1:]})
    assert not gate(field, athlete=field.minor, protocol=straight_in).allowed


def test_an_athlete_who_is_not_on_this_laptop_cannot_start(field):
    safeguarded(field)
    field.adult = field.adult.model_copy(update={"id": "unknown"})
    assert "the athlete's record is not on this laptop: exchange first" in gate(field).missing


def test_a_teams_plan_without_a_safeguard_step_can_start_nothing(field):
    from fieldlog.records.setup_plan import SetupPlan

    cleared(field)
    bare = PLAN.model_copy(
        update={"version": 2, "steps": tuple(step for step in PLAN.steps if step.key != "straps")}
    )
    Repo(field.workspace.team, SetupPlan).save(bare, by="another program")
    safeguarded(field, plan=bare)
    assert gate(field).missing == ("the plan 'Knee, seated' has no step for: straps checked",)


@pytest.mark.parametrize("at", ["2031-05-04", "soon", 7, None])
def test_a_check_without_a_readable_time_does_not_end_the_gate(field, at):
    cleared(field)
    safeguarded(field)
    body = {"id": "odd", "rig_id": RIG, "verdict": "fail", "at": at}
    field.store.commit([Change("rig_checks", "odd", body, ())], by="another program")
    assert gate(field).allowed
