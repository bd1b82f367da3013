"""Any check that can be read can be judged, printed and charted: finite numbers, known words, no crash."""

import datetime as dt
import json
import math
import os

from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.analysis.calibration import VERDICTS
from fieldlog.fieldwork.results.cover import cover_of, fact_of
from fieldlog.fieldwork.results.impact import error_change
from fieldlog.fieldwork.rig_checks.check_judge import budget, judge
from fieldlog.fieldwork.rig_life.rig_history import HistoricCheck, history
from fieldlog.records.check_entry import CheckEntry

EXAMPLES = 2_000 if os.environ.get("FIELDLOG_LONG") else 80

readings = st.one_of(
    st.floats(-1e5, 1e5), st.floats(-300, 300).map(lambda value: round(value, 1)), st.just(0.0)
)
points = st.fixed_dictionaries(
    {
        "mass_kg": st.one_of(st.sampled_from([5.0, 10.0, 20.0]), st.floats(0.001, 2000)),
        "arm_m": st.one_of(st.just(0.5), st.floats(0.001, 3)),
        "direction": st.sampled_from(["up", "down"]),
        "run": st.sampled_from(["loading", "unloading"]),
        "reading_nm": readings,
    },
    optional={"arm_angle_deg": st.one_of(st.floats(-89.999999, 89.999999), st.just(math.nextafter(90, 0)))},
)
tares = st.fixed_dictionaries(
    dict.fromkeys(("up_before_nm", "up_after_nm", "down_before_nm", "down_after_nm"), readings)
)
relative = st.floats(0, 1)
uncertainties = st.fixed_dictionaries(
    {},
    optional={
        "mass_rel": relative,
        "arm_m": relative,
        "arm_angle_deg": st.floats(0, 90),
        "gravity_rel": relative,
        "resolution_nm": st.floats(0, 1000),
        "angle_reference_deg": st.floats(0, 90),
        "speed_reference_rel": relative,
    },
)
limit = st.floats(0, 1000)
tolerances = st.one_of(
    st.sampled_from(["field", "calibration"]),
    st.fixed_dictionaries(
        {}, optional={"torque_pct": st.floats(0, 100), "torque_floor_nm": limit, "zero_nm": limit}
    ),
)
checks = st.fixed_dictionaries(
    {
        "rig": st.just("rig A"),
        "stage": st.sampled_from(["opening", "interim", "closing"]),
        "state": st.sampled_from(["as-found", "as-left"]),
        "at": st.datetimes(dt.datetime(1971, 1, 1), dt.datetime(2200, 1, 1)).map(
            lambda at: at.isoformat() + "+02:00"
        ),
        "by": st.just("tester 1"),
        "torque": st.lists(points, min_size=1, max_size=8),
        "tare": tares,
        "uncertainty": uncertainties,
        "tolerance": tolerances,
        "decision": st.sampled_from(["simple", "guarded"]),
        "hanger_kg": st.one_of(st.just(0.0), st.floats(0, 500)),
    },
    optional={
        "place": st.fixed_dictionaries(
            {"latitude_deg": st.floats(-90, 90), "height_m": st.floats(-500, 9000)}
        ),
        "zero": st.fixed_dictionaries({"before_nm": readings, "after_nm": readings}),
        "angle": st.lists(
            st.fixed_dictionaries(
                {"reference_deg": st.floats(-1000, 1000), "reading_deg": st.floats(-1000, 1000)}
            ),
            max_size=3,
        ),
        "speed": st.lists(
            st.fixed_dictionaries(
                {"reference_deg_s": st.floats(-5000, 5000), "reading_deg_s": st.floats(-5000, 5000)}
            ),
            max_size=3,
        ),
    },
)


def numbers(value):
    if isinstance(value, dict):
        for inner in value.values():
            yield from numbers(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from numbers(inner)
    elif isinstance(value, float):
        yield value


@settings(max_examples=EXAMPLES, deadline=None)
@given(checks)
def test_any_readable_check_is_judged_in_finite_numbers_and_known_words(body):
    entry = CheckEntry.model_validate(body)
    verdict = judge(entry)
    assert all(math.isfinite(number) for number in numbers(verdict))
    assert json.loads(json.dumps(verdict)) == verdict
    assert verdict["verdict"] in VERDICTS
    assert all(
        VERDICTS.index(point["verdict"]) <= VERDICTS.index(verdict["verdict"])
        for point in verdict["torque"]["points"]
    )
    assert all(point["coverage_factor"] >= 2.0 for point in verdict["torque"]["points"])
    assert budget(entry, 0).u_expanded_nm == verdict["torque"]["points"][0]["u_expanded_nm"]


@settings(max_examples=EXAMPLES // 2, deadline=None)
@given(st.lists(checks, min_size=1, max_size=5))
def test_any_series_of_checks_has_a_history_and_gives_cover(bodies):
    entries = [CheckEntry.model_validate(body) for body in bodies]
    series = [
        HistoricCheck(str(i), entry.at, "hall", entry.stage, entry.state, judge(entry), entry)
        for i, entry in enumerate(entries)
    ]
    found = history("rig A", series)
    assert all(math.isfinite(number) for number in numbers(found))
    assert json.loads(json.dumps(found)) == found
    facts = [
        fact_of(each.id, at=each.at, site=each.site, stage=each.stage, state=each.state, judged=each.judged)
        for each in series
    ]
    cover_of(series[0].at, "up", 100.0, facts)
    change = error_change(
        series[0].judged, series[-1].judged, direction="up", torque_nm=100.0, resolution_nm=0.1
    )
    assert change is None or math.isfinite(change.change_nm)
