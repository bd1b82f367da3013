"""A setup plan that could lead a tester in circles, or past a safeguard, is refused."""

import pytest

from fieldlog.errors import InputError
from fieldlog.records.setup_plan import SetupPlan


def plan(*steps, **fields):
    return {"id": "p", "name": "Plan", "region": "knee", "steps": list(steps), **fields}


def confirm(key, **fields):
    return {"kind": "confirm", "key": key, "label": key, "text": "do it", **fields}


def scale(key="seat", **fields):
    body = {
        "kind": "reading",
        "key": key,
        "label": key,
        "text": "read it",
        "unit": "cm",
        "low": 0,
        "high": 40,
    }
    return {**body, "step": 0.5, "retest_tolerance": 0.5, **fields}


@pytest.mark.parametrize(
    ("body", "part"),
    [
        (plan(confirm("a", back_to="a")), "goes back to itself"),
        (plan(confirm("a", back_to="b"), confirm("b")), "does not come before it"),
        (plan(confirm("a"), confirm("a")), "share one key"),
        (plan(scale(low=5, high=5)), "from a smaller to a larger"),
        (plan(scale(step=50)), "longer than the scale"),
        (plan(scale(high=float("inf"))), "finite"),
        (plan({**confirm("a"), "kind": "choice", "options": ["x", "x"]}), "share one name"),
        (plan(confirm("a", safeguard="straps")), "must hold the start"),
        (
            plan(confirm("a", safeguard="straps", holds_start=True, each_time=True, optional=True)),
            "cannot be optional",
        ),
        (plan(), "at least 1 item"),
        (plan(confirm("a"), colour="red"), "Extra inputs"),
    ],
)
def test_a_plan_that_does_not_hold_together_is_refused(body, part):
    with pytest.raises(InputError, match=part):
        SetupPlan.from_body(body)


def test_a_plan_knows_its_steps():
    whole = SetupPlan.from_body(
        plan(confirm("a", safeguard="straps", holds_start=True, each_time=True), scale(back_to="a"))
    )
    assert [step.key for step in whole.readings] == ["seat"]
    assert [step.key for step in whole.safeguards] == ["a"]
    assert whole.step("seat").back_to == "a"
    assert whole.step("b") is None
    assert SetupPlan.from_body(whole.to_body()) == whole
