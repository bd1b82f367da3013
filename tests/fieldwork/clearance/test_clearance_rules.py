"""The rules of clearance, stopping and adding a repetition, each with what it forbids."""

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.clearance.clearance_rules import (
    judge_answers,
    one_more_allowed,
    protocol_objections,
    set_objections,
    stop_advice,
)
from fieldlog.fieldwork.clearance.clearances import clearance_form
from fieldlog.records.clearance import Clearance
from fieldlog.records.protocol import PlannedSet
from tests.fieldwork.clearance.answers import CLEAR, MINOR

FORM = clearance_form(None)


def judge(answers, *, minor=False, consent=True):
    return judge_answers(FORM, answers, minor=minor, consent_in_date=consent)


def test_the_shipped_form_says_that_it_is_no_medical_advice():
    assert FORM.source == "common practice"
    assert "not medical advice" in FORM.caution
    assert "local rules" in FORM.caution


def test_nothing_to_report_is_go():
    assert judge(CLEAR).outcome == "go"
    assert judge(MINOR, minor=True).outcome == "go"


@pytest.mark.parametrize(
    "key",
    ["injury", "illness", "surgery", "heart_and_vessels", "head_and_nerves", "medication", "anything_else"],
)
def test_a_yes_to_any_listed_reason_holds(key):
    judged = judge({**CLEAR, key: True})
    assert (judged.outcome, judged.on_answers, judged.missing) == ("held", True, ())
    assert len(judged.reasons) == 1


def test_optional_answers_hold_when_they_are_given():
    assert judge({**CLEAR, "pregnancy": True}).outcome == "held"
    assert judge({**CLEAR, "pregnancy": None}).outcome == "go"
    assert judge({**CLEAR, "systolic_mmhg": 185, "diastolic_mmhg": 80}).outcome == "held"
    assert judge({**CLEAR, "systolic_mmhg": 125, "diastolic_mmhg": 80}).outcome == "go"


@pytest.mark.parametrize(
    ("pain", "outcome"), [(0, "go"), (3, "go"), (3.5, "held"), (4, "held"), (10, "held")]
)
def test_pain_above_three_holds(pain, outcome):
    judged = judge({**CLEAR, "pain_now": pain})
    assert judged.outcome == outcome
    assert bool(judged.cautions) is (pain > 0)


def test_without_consent_in_date_the_athlete_is_held_for_a_paper():
    judged = judge(CLEAR, consent=False)
    assert (judged.outcome, judged.missing, judged.on_answers) == ("held", ("consent",), False)


@pytest.mark.parametrize(
    ("key", "paper"),
    [
        ("guardian_consent", "guardian's consent"),
        ("assent", "assent"),
        ("chaperone", "chaperone"),
        ("lever_fits", "lever fits"),
    ],
)
def test_a_minor_needs_guardian_assent_chaperone_and_a_lever_that_fits(key, paper):
    judged = judge({**MINOR, key: False}, minor=True)
    assert (judged.outcome, judged.missing) == ("held", (paper,))
    with pytest.raises(InputError, match="not answered"):
        judge({k: v for k, v in MINOR.items() if k != key}, minor=True)


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"injury": None}, "Injury: not answered"),
        ({"injury": "no"}, "yes or no"),
        ({"injury": 0}, "yes or no"),
        ({"pain_now": 11}, "not between 0 and 10"),
        ({"pain_now": True}, "with a number"),
        ({"pain_now": float("nan")}, "with a number"),
        ({"shoe_size": 43}, "no question 'shoe_size'"),
    ],
)
def test_an_answer_that_is_missing_or_wrong_is_named(change, part):
    with pytest.raises(InputError, match=part):
        judge({**CLEAR, **change})


def planned(**fields):
    return PlannedSet(**{"speed_deg_s": 60, "repetitions": 5, "extra_allowed": 1, **fields})


ECCENTRIC = planned(mode="eccentric", extra_allowed=0)


def limited(*rules):
    return Clearance(
        id="c",
        visit_id="v",
        athlete_id="a",
        at="2031-05-04T09:00:00+02:00",
        by="t",
        outcome="limits",
        consent_in_date=True,
        decided_by="N. Invented",
        limits="easy today",
        limit_rules=rules,
    )


def go():
    return limited().model_copy(update={"outcome": "go", "limits": "", "decided_by": ""})


def objections(a_set, side="right", *, minor=False, first_visit=False, clearance=None):
    return set_objections(a_set, side, minor=minor, first_visit=first_visit, clearance=clearance)


def test_eccentric_is_never_maximal_at_a_first_visit_nor_for_a_minor():
    assert objections(ECCENTRIC) == ()
    assert objections(ECCENTRIC, first_visit=True) == ("no maximal eccentric effort at a first visit",)
    assert objections(ECCENTRIC, minor=True) == ("no maximal eccentric effort for a minor",)
    easy = planned(mode="eccentric", effort="submaximal", extra_allowed=0)
    assert objections(easy, first_visit=True, minor=True) == ()


@pytest.mark.parametrize(
    ("rule", "a_set", "side", "allowed"),
    [
        ("submaximal only", planned(), "right", False),
        ("submaximal only", planned(effort="submaximal"), "right", True),
        ("concentric only", ECCENTRIC, "right", False),
        ("concentric only", planned(mode="isometric", speed_deg_s=0), "right", False),
        ("concentric only", planned(), "right", True),
        ("left side only", planned(), "right", False),
        ("left side only", planned(), "left", True),
        ("right side only", planned(), "both", False),
        ("no extra repetition", planned(), "right", True),
    ],
)
def test_limits_are_kept_to(rule, a_set, side, allowed):
    assert (objections(a_set, side, clearance=limited(rule)) == ()) is allowed


def test_a_minor_starts_submaximal_and_not_eccentric():
    from fieldlog.fieldwork.catalogue import shipped_protocols

    protocol = shipped_protocols()["knee_60_180"]
    assert protocol_objections(protocol, minor=True) == ()
    straight_in = protocol.model_copy(update={"sets": protocol.sets[1:]})
    assert protocol_objections(straight_in, minor=True)
    assert protocol_objections(straight_in, minor=False) == ()


@pytest.mark.parametrize(
    ("reason", "pain", "before", "no_restart"),
    [
        ("pain", 4, 3, True),
        ("pain", 3, 2, False),
        ("pain", 3, 1, True),
        ("pain", 2, 0, True),
        ("pain", 2, None, True),
        ("pain", 1, None, False),
        ("request", None, 0, False),
        ("request", 5, 0, True),
        ("dizzy or chest", None, 0, True),
        ("strap slip", None, 0, False),
        ("rig noise", 0, 0, False),
    ],
)
def test_pain_above_three_or_up_by_two_and_dizziness_end_the_day(reason, pain, before, no_restart):
    advice = stop_advice(reason, pain=pain, pain_before=before)
    assert advice.no_restart is no_restart
    assert ("do not restart today without a named person" in advice.text) is no_restart


@pytest.mark.parametrize("pain", [None, -1, 11, float("nan")])
def test_a_stop_for_pain_needs_its_number(pain):
    with pytest.raises(InputError, match="pain"):
        stop_advice("pain", pain=pain)


BRAKE_OFF = {
    "extra_done": 0,
    "pain_now": 0,
    "pain_before": 0,
    "stop_logged": False,
    "minor": False,
    "clearance": go(),
}


def test_one_more_repetition_only_where_the_protocol_allows_it():
    assert one_more_allowed(planned(), **BRAKE_OFF) == (True, "1 more allowed by the protocol")
    assert not one_more_allowed(planned(extra_allowed=0), **BRAKE_OFF).allowed
    assert not one_more_allowed(planned(), **{**BRAKE_OFF, "extra_done": 1}).allowed
    assert not one_more_allowed(planned(purpose="familiarisation"), **BRAKE_OFF).allowed


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"pain_now": 1}, "pain above 0"),
        ({"pain_now": 2, "pain_before": 1}, "pain above 0"),
        ({"pain_now": None}, "ask for pain first"),
        ({"stop_logged": True}, "a stop was logged today"),
        ({"minor": True}, "a minor"),
        ({"clearance": limited()}, "limits today"),
        ({"clearance": None}, "no clearance today"),
    ],
)
def test_the_brake_on_one_more_repetition(change, reason):
    assert one_more_allowed(planned(), **{**BRAKE_OFF, **change}) == (False, reason)


def test_eccentric_work_gets_no_extra_repetition_even_where_a_protocol_says_so():
    a_set = planned(mode="eccentric", extra_allowed=2)
    assert one_more_allowed(a_set, **BRAKE_OFF) == (False, "eccentric work")
