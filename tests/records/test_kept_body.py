"""Measures and verdicts that are kept as plain JSON have the shape that every room relies on."""

from __future__ import annotations

import copy

import pytest

from fieldlog.errors import InputError
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.rig_check import RigCheck

KEPT = {EffortSet: "measures", RigCheck: "judged"}


def bodies(sample, kind):
    return [r.body for store in sample.sites.values() for r in store.documents(kind.table) if r.body]


@pytest.mark.parametrize("kind", KEPT)
def test_what_fieldlog_wrote_is_read_as_it_was_written(sample, kind):
    for body in bodies(sample, kind):
        assert kind.from_body(body).to_body()[KEPT[kind]] == body[KEPT[kind]]


@pytest.mark.parametrize(
    ("kind", "path", "value"),
    [
        (EffortSet, ["movements"], None),
        (EffortSet, ["movements", 0, "flags"], 5),
        (EffortSet, ["movements", 0, "peak_torque_nm"], "110"),
        (EffortSet, ["movements", 0, "peak_torque_nm"], True),
        (EffortSet, ["movements", 0, "direction"], "left"),
        (EffortSet, ["set", "up"], {}),
        (EffortSet, ["recipe"], []),
        (EffortSet, ["quality"], ["good"]),
        (RigCheck, ["torque", "points", 0, "error_nm"], None),
        (RigCheck, ["torque", "lines"], {"up": None}),
        (RigCheck, ["zero"], 0.1),
        (RigCheck, ["remarks"], "none"),
    ],
)
def test_a_body_of_another_shape_is_refused_with_its_field(sample, kind, path, value):
    body = copy.deepcopy(bodies(sample, kind)[0])
    place = body[KEPT[kind]]
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    with pytest.raises(InputError, match=f"{KEPT[kind]}: {path[0]}"):
        kind.from_body(body)
