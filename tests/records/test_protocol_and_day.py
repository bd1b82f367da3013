"""Protocols, clearance forms, stops and the day's notes refuse what contradicts itself."""

import pytest

from fieldlog.errors import InputError
from fieldlog.records.athlete_day import AthleteDay
from fieldlog.records.clearance_form import ClearanceForm
from fieldlog.records.protocol import Protocol
from fieldlog.records.stop_entry import StopEntry

AT = "2031-05-04T09:00:00+02:00"
PROTOCOL = {
    "id": "p",
    "name": "Knee",
    "region": "knee",
    "plan_id": "knee",
    "up_name": "flexion",
    "down_name": "extension",
    "sets": [{"speed_deg_s": 60, "repetitions": 5}],
}
FORM = {
    "id": "f",
    "name": "Form",
    "items": [{"key": "ill", "label": "Ill", "question": "Ill?", "holds_on": "yes"}],
}
STOP = {
    "id": "s",
    "visit_id": "v",
    "athlete_id": "a",
    "at": AT,
    "by": "t",
    "kind": "athlete",
    "no_restart": True,
}
DAY = {"id": "d", "visit_id": "v", "athlete_id": "a", "at": AT, "by": "t"}


def item(**fields):
    return {"items": [{"key": "ill", "label": "Ill", "question": "Ill?", **fields}]}


@pytest.mark.parametrize(
    ("model", "body", "part"),
    [
        (Protocol, PROTOCOL | {"sets": [{"speed_deg_s": 0, "repetitions": 5}]}, "isometric"),
        (
            Protocol,
            PROTOCOL | {"sets": [{"speed_deg_s": 60, "mode": "isometric", "repetitions": 3}]},
            "isometric",
        ),
        (Protocol, PROTOCOL | {"up_is_effort": False}, "ratio needs both"),
        (ClearanceForm, FORM | item(kind="number", holds_on="yes"), "belongs to a yes/no"),
        (ClearanceForm, FORM | item(holds_above=3), "belongs to a number"),
        (ClearanceForm, FORM | item(paper="assent"), "must hold"),
        (ClearanceForm, FORM | item(kind="number", low=5, high=5), "not below the largest"),
        (ClearanceForm, FORM | {"items": FORM["items"] * 2}, "share one key"),
        (StopEntry, STOP | {"released_by": "N. Invented"}, "name of who gave it and its time"),
        (AthleteDay, DAY | {"chaperone_from": AT, "chaperone_until": AT}, "not after"),
    ],
)
def test_a_record_that_contradicts_itself_is_refused(model, body, part):
    with pytest.raises(InputError, match=part):
        model.from_body(body)


def test_efforts_and_ratio_follow_from_the_protocol():
    assert Protocol.from_body(PROTOCOL).efforts == ("up", "down")
    assert Protocol.from_body(PROTOCOL).ratio_name == "extension/flexion"
    assert Protocol.from_body(PROTOCOL).ratio_directions == ("down", "up")
    assert Protocol.from_body(PROTOCOL | {"ratio_numerator": "up"}).ratio_directions == ("up", "down")
    one = Protocol.from_body(PROTOCOL | {"up_is_effort": False, "ratio_numerator": None})
    assert (one.efforts, one.ratio_name, one.ratio_directions) == (("down",), None, None)


def test_a_stop_holds_until_it_is_released():
    assert StopEntry.from_body(STOP).holds
    assert not StopEntry.from_body(STOP | {"no_restart": False}).holds
    assert not StopEntry.from_body(STOP | {"released_by": "N. Invented", "released_at": AT}).holds


def test_minors_are_asked_more():
    form = ClearanceForm.from_body(
        FORM | {"items": [*FORM["items"], {"key": "b", "label": "B", "question": "B?", "for_whom": "minors"}]}
    )
    assert [len(form.asked_of(minor=minor)) for minor in (False, True)] == [1, 2]
