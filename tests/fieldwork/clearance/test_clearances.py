"""Clearance on the day: answers apart, a hold that only a named person lifts, and recordings without it."""

import datetime as dt

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.athletes.person_entries import (
    consent_status,
    pain_today,
    record_consent,
    record_pain,
    withdraw_consent,
)
from fieldlog.fieldwork.clearance.clearances import (
    clearance_form,
    clearance_today,
    decide_clearance,
    recorded_without_clearance,
    save_form,
    take_clearance,
)
from fieldlog.records.clearance import Clearance
from fieldlog.store.lines import Change
from fieldlog.store.repo import Repo
from tests.fieldwork.clearance.answers import CLEAR as NOTHING
from tests.fieldwork.clearance.answers import MINOR as NOTHING_OF_A_MINOR

CLEAR = {**NOTHING, "pain_now": 1}
MINOR = {**NOTHING_OF_A_MINOR, "pain_now": 1}


def consent(field, athlete=None, **fields):
    body = {
        "given_on": dt.date(2031, 1, 1),
        "valid_until": dt.date(2031, 12, 31),
        "wording": "2031-1",
        "by_guardian": False,
        "by": "tester",
        "at": field.clock("08:00"),
    }
    record_consent(field.workspace, (athlete or field.adult).id, **{**body, **fields})


def take(field, answers=CLEAR, *, athlete=None, at="09:00"):
    kept, _ = take_clearance(
        field.workspace,
        field.store,
        field.visit,
        athlete or field.adult,
        answers,
        by="tester",
        at=field.clock(at),
    )
    return kept


def decide(field, kept, outcome="go", **fields):
    body = {"decided_by": "N. Invented", "decided_role": "physiotherapist", "by": "tester"}
    return decide_clearance(
        field.workspace, field.store, kept, outcome, **{**body, "at": field.clock("09:20"), **fields}
    )


def today(field, athlete=None):
    return clearance_today(field.store, field.visit, (athlete or field.adult).id)


def test_nothing_to_report_with_consent_is_go(field):
    consent(field)
    assert take(field).record.outcome == "go"
    assert today(field).outcome == "go"


def test_without_consent_the_athlete_is_held_until_it_is_there(field):
    assert take(field).record.missing == ("consent",)
    assert today(field).outcome == "held"
    consent(field)
    assert take(field, at="09:10").record.outcome == "go"
    assert today(field).outcome == "go"


@pytest.mark.parametrize(
    ("fields", "minor", "text"),
    [
        ({"valid_until": dt.date(2031, 5, 3)}, False, "ended on 3 May 2031"),
        ({"given_on": dt.date(2031, 5, 5)}, False, "dated 5 May 2031"),
        ({}, True, "not the guardian's"),
    ],
)
def test_consent_must_be_in_date_and_from_the_right_person(field, fields, minor, text):
    consent(field, **fields)
    status = consent_status(field.workspace, field.adult.id, minor=minor, on=field.visit.date)
    assert not status.in_date
    assert text in status.text


def test_consent_without_an_end_holds_until_it_is_withdrawn(field):
    consent(field, valid_until=None)
    assert consent_status(field.workspace, field.adult.id, minor=False, on=field.visit.date).in_date
    withdraw_consent(field.workspace, field.adult.id, by="tester", at=field.clock("08:30"))
    status = consent_status(field.workspace, field.adult.id, minor=False, on=field.visit.date)
    assert (status.in_date, status.text) == (False, "consent withdrawn on 4 May 2031")


def test_consent_that_ends_before_it_begins_is_refused(field):
    with pytest.raises(InputError, match="is before"):
        consent(field, valid_until=dt.date(2030, 1, 1))


@pytest.mark.parametrize(
    "entry",
    [
        {"kind": "consent", "at": "2031-05-04T08:00:00+02:00", "given_on": "soon", "by_guardian": True},
        {"kind": "consent", "at": "2031-05-04T08:00:00+02:00", "given_on": "2031-01-01", "valid_until": 7},
        {"kind": "consent", "at": "yesterday", "given_on": "2031-01-01", "valid_until": None},
        {"kind": "consent", "given_on": "2031-01-01", "valid_until": None},
    ],
)
def test_a_consent_entry_that_cannot_be_read_is_no_consent(field, entry):
    field.workspace.persons.put({**entry, "athlete_id": field.adult.id})
    assert not consent_status(field.workspace, field.adult.id, minor=False, on=field.visit.date).in_date


def test_answers_are_in_the_persons_files_and_in_no_record(field):
    consent(field)
    take(field, {**CLEAR, "injury": True})
    for store in (field.workspace.team, field.store):
        store.seal()
        text = b"".join(path.read_bytes() for path in store.path.rglob("*.jsonl"))
        assert b"injury" not in text.lower()
        assert b"pain" not in text.lower()
    persons = [path.read_text() for path in (field.workspace.path / "team" / "persons").iterdir()]
    assert any('"injury":true' in text for text in persons)


def test_a_held_athlete_goes_on_only_by_a_named_and_qualified_person(field):
    consent(field)
    kept = take(field, {**CLEAR, "injury": True})
    assert kept.record.needs_decision
    for name, role in (("", "physiotherapist"), ("N. Invented", "  ")):
        with pytest.raises(RefusedError, match="named, qualified person"):
            decide(field, kept, decided_by=name, decided_role=role)
    assert today(field).outcome == "held"
    decide(field, kept)
    assert (today(field).outcome, today(field).decided_by) == ("go", "N. Invented")


def test_answering_again_does_not_lift_a_hold(field):
    consent(field)
    take(field, {**CLEAR, "injury": True})
    again = take(field, CLEAR, at="09:10")
    assert again.record.outcome == "held"
    assert again.record.needs_decision
    decide(field, again)
    assert today(field).outcome == "go"


def test_undoing_a_hold_does_not_lift_it(field):
    consent(field)
    kept = take(field, {**CLEAR, "injury": True})
    field.store.undo("clearances", kept.record.id, by="tester")
    assert Repo(field.store, Clearance).get(kept.record.id) is None
    assert today(field).outcome == "held"
    assert take(field, CLEAR, at="09:10").record.outcome == "held"
    assert today(field).outcome == "held"


def test_a_record_of_go_from_another_laptop_does_not_lift_a_hold(field):
    consent(field)
    kept = take(field, {**CLEAR, "injury": True})
    other = kept.record.model_copy(update={"id": "elsewhere", "outcome": "go", "on_answers": False})
    Repo(field.store, Clearance).save(other, by="other")
    assert today(field).outcome == "held"


def test_a_new_reason_after_a_decision_holds_again(field):
    consent(field)
    decided = decide(field, take(field, {**CLEAR, "injury": True}))
    assert decided.record.outcome == "go"
    take(field, {**CLEAR, "illness": True}, at="10:00")
    assert today(field).outcome == "held"


def test_nobody_can_decide_instead_of_a_missing_paper(field):
    consent(field, field.minor, by_guardian=True)
    kept = take(field, {**MINOR, "chaperone": False}, athlete=field.minor)
    assert not kept.record.needs_decision
    with pytest.raises(RefusedError, match="chaperone"):
        decide(field, kept)
    assert take(field, MINOR, athlete=field.minor, at="09:30").record.outcome == "go"


def test_limits_are_in_words_and_name_their_author(field):
    consent(field)
    kept = take(field, {**CLEAR, "injury": True})
    with pytest.raises(InputError, match="in words"):
        decide(field, kept, "limits")
    limited = decide(field, kept, "limits", limits="easy efforts", limit_rules=["submaximal only"])
    assert limited.record.limit_rules == ("submaximal only",)
    assert today(field).outcome == "limits"


def test_a_decision_cannot_be_dated_before_the_hold(field):
    consent(field)
    kept = take(field, {**CLEAR, "injury": True})
    with pytest.raises(InputError, match="dated before"):
        decide(field, kept, at=field.clock("08:59"))


def test_a_clearance_holds_for_its_own_day(field):
    consent(field)
    take(field)
    tomorrow = field.visit_on(field.visit.date + dt.timedelta(days=1))
    assert clearance_today(field.store, tomorrow, field.adult.id) is None
    with pytest.raises(InputError, match="for the day it is taken"):
        take_clearance(
            field.workspace, field.store, tomorrow, field.adult, CLEAR, by="t", at=field.clock("09:00")
        )


def test_a_wrong_answer_keeps_nothing(field):
    consent(field)
    with pytest.raises(InputError, match="not answered"):
        take(field, {**CLEAR, "injury": None})
    assert today(field) is None


def test_a_recording_before_clearance_or_of_a_held_athlete_is_without_clearance(field):
    assert recorded_without_clearance(field.store, field.visit, field.adult.id, field.clock("10:00"))
    consent(field)
    kept = take(field, {**CLEAR, "injury": True})
    assert recorded_without_clearance(field.store, field.visit, field.adult.id, field.clock("10:00"))
    decide(field, kept)
    assert recorded_without_clearance(field.store, field.visit, field.adult.id, field.clock("09:10"))
    assert not recorded_without_clearance(field.store, field.visit, field.adult.id, field.clock("09:20"))


def test_pain_is_remembered_from_the_clearance_on(field):
    assert pain_today(field.workspace, field.visit, field.adult.id) == (None, None)
    consent(field)
    take(field)
    assert pain_today(field.workspace, field.visit, field.adult.id) == (1.0, 1.0)
    record_pain(field.workspace, field.visit, field.adult.id, 2, by="tester", at=field.clock("09:30"))
    assert pain_today(field.workspace, field.visit, field.adult.id) == (1.0, 2.0)
    with pytest.raises(InputError, match="0 and 10"):
        record_pain(field.workspace, field.visit, field.adult.id, 12, by="t", at=field.clock("09:31"))


def test_a_team_edits_its_form_and_the_clearance_names_the_version(field):
    consent(field)
    form = clearance_form(field.workspace)
    fewer = form.model_copy(update={"items": form.items[:3]})
    assert save_form(field.workspace, fewer, by="lead", why="local rules").record.version == 2
    kept = take(field, {"pain_now": 0, "injury": False, "illness": False})
    assert (kept.record.outcome, kept.record.form_version) == ("go", 2)


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"consent_in_date": False}, "without consent"),
        ({"missing": ("assent",)}, "without assent"),
        ({"outcome": "limits"}, "limits need"),
        ({"limit_rules": ("concentric only",)}, "belong to the outcome"),
        ({"at": "2031-05-04T09:00:00"}, "offset"),
    ],
)
def test_a_clearance_record_that_contradicts_itself_is_refused(change, part):
    body = {"id": "c", "visit_id": "v", "athlete_id": "a", "at": "2031-05-04T09:00:00+02:00", "by": "t"}
    body |= {"outcome": "go", "consent_in_date": True}
    assert Clearance.from_body(body).outcome == "go"
    with pytest.raises(InputError, match=part):
        Clearance.from_body(body | change)


def test_the_same_clearance_taken_apart_on_two_laptops_is_held_if_one_holds(field):
    consent(field)
    kept = take(field)
    held = kept.record.model_copy(update={"outcome": "held", "on_answers": True})
    field.store.commit([Change("clearances", held.id, held.to_body(), ())], by="other laptop")
    assert len(field.store.heads("clearances", held.id)) == 2
    assert today(field).outcome == "held"
