"""Reading a check file: what is taken, and the one line said of everything else."""

import copy
import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldlog.errors import InputError
from fieldlog.fieldwork.rig_checks.check_file import read_check_file
from fieldlog.records.check_entry import CheckEntry
from tests.simulation.rig import Place, SimulatedRig, check_entry

BODY = check_entry(
    SimulatedRig(),
    Place(60.2, 4.0),
    name="rig A",
    stage="opening",
    at="2031-05-04T08:14:00+02:00",
    by="tester 1",
    temperature_c=6.0,
    powered_on_at="2031-05-04T07:30:00+02:00",
)


@pytest.fixture
def read(tmp_path):
    def read(body):
        path = tmp_path / "check.json"
        if isinstance(body, bytes):
            path.write_bytes(body)
        else:
            path.write_text(body if isinstance(body, str) else json.dumps(body), encoding="utf-8")
        return read_check_file(path)

    return read


def changed(path, value):
    """The sound check with one field set to ``value``, or taken out where that is ``...``."""
    body = copy.deepcopy(BODY)
    *steps, last = path
    place = body
    for step in steps:
        place = place[step]
    if value is ...:
        del place[last]
    else:
        place[last] = value
    return body


def test_a_sound_file_is_taken_as_it_stands(read):
    entry = read(BODY)
    assert (entry.rig, entry.stage, entry.state, entry.by) == ("rig A", "opening", "as-found", "tester 1")
    assert [point.reading_nm for point in entry.torque] == [point["reading_nm"] for point in BODY["torque"]]
    assert entry.at.isoformat() == "2031-05-04T08:14:00+02:00"


def test_what_was_read_survives_being_kept(read):
    entry = read(BODY)
    assert CheckEntry.model_validate(entry.model_dump(mode="json")) == entry


def test_defaults_are_those_of_the_check_file(read):
    body = changed(["state"], ...)
    for key in ("tolerance", "uncertainty", "decision", "place", "conditions", "angle", "speed"):
        del body[key]
    entry = read(body)
    assert (entry.state, entry.tolerance, entry.decision) == ("as-found", "field", "guarded")
    assert (entry.hanger_kg, entry.torque[0].arm_angle_deg, entry.place) == (0.0, 0.0, None)


def test_a_byte_order_mark_and_whole_numbers_are_fine(read):
    body = changed(["torque", 0, "mass_kg"], 5)
    assert read(b"\xef\xbb\xbf" + json.dumps(body).encode()).torque[0].mass_kg == 5.0


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (["torque", 3, "mass_kg"], 0, "torque[3].mass_kg: must be above zero"),
        (["torque", 3, "mass_kg"], -5, "torque[3].mass_kg: must be above zero"),
        (["torque", 3, "mass_kg"], "20", "torque[3].mass_kg"),
        (["torque", 3, "mass_kg"], True, "torque[3].mass_kg"),
        (["torque", 3, "mass_kg"], None, "torque[3].mass_kg"),
        (["torque", 3, "mass_kg"], 10**400, "torque[3].mass_kg"),
        (["torque", 3, "mass_kg"], 1e300, "torque[3].mass_kg"),
        (["torque", 3, "mass_kg"], ..., "torque[3].mass_kg"),
        (["torque", 1, "arm_m"], 0, "torque[1].arm_m: must be above zero"),
        (["torque", 1, "arm_m"], -0.5, "torque[1].arm_m: must be above zero"),
        (
            ["torque", 1, "arm_m"],
            40,
            "torque[1].arm_m: a lever of 40 m is longer than 3 m; metres? 40 cm is 0.40",
        ),
        (["torque", 1, "arm_m"], 3.01, "torque[1].arm_m"),
        (["torque", 1, "arm_m"], 10**400, "torque[1].arm_m"),
        (["torque", 1, "arm_angle_deg"], 90, "torque[1].arm_angle_deg: 90° from the horizontal"),
        (["torque", 1, "arm_angle_deg"], -95.0, "torque[1].arm_angle_deg"),
        (["torque", 1, "arm_angle_deg"], 1e9, "torque[1].arm_angle_deg"),
        (["torque", 0, "reading_nm"], float("nan"), "torque[0].reading_nm"),
        (["torque", 0, "reading_nm"], float("-inf"), "torque[0].reading_nm"),
        (["torque", 0, "direction"], "left", "torque[0].direction"),
        (["torque", 0, "run"], "up", "torque[0].run"),
        (["torque", 0, "weight"], 3, "torque[0].weight"),
        (["torque", 0], 17, "torque[0]"),
        (["torque"], [], "torque: "),
        (["torque"], ..., "torque: "),
        (["torque"], {"0": 1}, "torque: "),
        (["tare"], ..., "tare: no zero was read"),
        (["tare", "down_after_nm"], ..., "tare.down_after_nm: missing"),
        (["tare", "up_before_nm"], "0", "tare.up_before_nm"),
        (["zero"], {"before_nm": 0.1}, "zero.after_nm"),
        (["at"], "2031-05-04T08:14:00", "at: the time has no offset"),
        (["at"], "2031-05-04", "at: "),
        (["at"], 1_900_000_000, "at: "),
        (["at"], "yesterday", "at: "),
        (["at"], "9999-12-31T23:00+00:00", "at: the year 9999"),
        (["at"], "0001-01-01T00:00+14:00", "at: the year 1"),
        (["at"], "9999-99-99T00:00+00:00", "at: "),
        (["conditions", "powered_on_at"], "2031-05-04T09:00:00+02:00", "conditions.powered_on_at"),
        (["conditions", "temperature_c"], 600, "conditions.temperature_c"),
        (["place", "latitude_deg"], 91, "place.latitude_deg"),
        (["place", "height_m"], float("inf"), "place.height_m"),
        (["stage"], "middle", "stage"),
        (["state"], "as found", "state"),
        (["decision"], "strict", "decision"),
        (["rig"], "", "rig: is empty"),
        (["by"], "  ", "by: is empty"),
        (["rig"], 7, "rig"),
        (["rig"], "A\x1b[31m", "rig: holds control characters"),
        (["rig"], "\ud800", "rig"),
        (["tolerance"], 2, "tolerance"),
        (["tolerance"], {"torque_pct": -1}, "tolerance.torque_pct"),
        (["tolerance"], {"torque_percent": 1}, "tolerance.torque_percent"),
        (["uncertainty", "mass_rel"], -0.1, "uncertainty.mass_rel"),
        (["uncertainty", "masse"], 0.1, "uncertainty.masse"),
        (["angle", 0, "reading_deg"], "x", "angle[0].reading_deg"),
        (["speed", 2, "reference_deg_s"], None, "speed[2].reference_deg_s"),
        (["hanger_kg"], -1, "hanger_kg"),
        (["operator"], "T1", "operator"),
    ],
)
def test_each_slip_is_named_by_file_and_field_in_one_line_with_what_to_do(read, tmp_path, path, value, said):
    with pytest.raises(InputError) as caught:
        read(changed(path, value))
    line = str(caught.value)
    assert line.startswith(f"{tmp_path / 'check.json'}: {said}")
    assert caught.value.hint
    assert "\n" not in line
    assert "pydantic" not in line.lower()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"  \n", "empty"),
        (b"\x00\xff\xfe", "not UTF-8"),
        (b'{"rig": "A",\n "stage": }', "line 2, column 11"),
        (b"[1, 2]", "no JSON object"),
        (b"17", "no JSON object"),
        (b'{"rig": "A", "rig": "B"}', "rig stands twice"),
        (b"[" * 100_000, "beyond reason"),
        (b'{"a": ' + b"9" * 10_000 + b"}", "beyond reason"),
        (b"PK\x03\x04" + b"\x80" * 50, "not UTF-8"),
        (b" " * 5_120_001, "larger"),
    ],
    ids=[
        "empty",
        "blank",
        "binary",
        "broken",
        "list",
        "number",
        "twice",
        "deep",
        "digits",
        "archive",
        "huge",
    ],
)
def test_a_file_that_is_no_check_is_named(read, content, said):
    with pytest.raises(InputError, match=said):
        read(content)


def test_a_check_in_one_direction_needs_the_tare_of_that_direction_only(read):
    body = copy.deepcopy(BODY)
    body["torque"] = [point for point in body["torque"] if point["direction"] == "up"]
    body["tare"] = {"up_before_nm": 7.3, "up_after_nm": 7.3}
    assert read(body).tare_nm("up") == 7.3


def test_zero_alone_serves_both_directions(read):
    body = changed(["tare"], ...)
    body["zero"] = {"before_nm": 0.2, "after_nm": 0.3}
    entry = read(body)
    assert (entry.tare_nm("up"), entry.tare_nm("down")) == (0.2, 0.2)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=10), inner, max_size=3),
    max_leaves=8,
)
FIELDS = [
    (["torque", 0, "mass_kg"]), (["torque", 0, "arm_angle_deg"]), (["torque", 0]), (["torque"]), (["tare"]),
    (["tare", "up_before_nm"]), (["at"]), (["by"]), (["place"]), (["conditions"]), (["tolerance"]),
    (["uncertainty"]), (["uncertainty", "arm_m"]), (["angle"]), (["speed", 0]), (["stage"]), (["extra"]),
]  # fmt: skip


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.sampled_from(FIELDS), ANYTHING)
def test_whatever_stands_in_a_field_it_is_taken_or_named(read, path, value):
    try:
        entry = read(changed(path, value))
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017 (whether it raises is what the example decides)
    else:
        assert isinstance(entry, CheckEntry)
