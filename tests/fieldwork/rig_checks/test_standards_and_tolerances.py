"""Reference standards and tolerance sets, entered and edited by hand; the display step, asked once."""

import datetime as dt

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.rig_checks.checks import save_check
from fieldlog.fieldwork.rig_checks.standards import (
    certificate_words,
    read_standard,
    save_standard,
    standards_of,
    typed_of,
)
from fieldlog.fieldwork.rig_checks.tolerance_book import (
    LIMIT_WORDS,
    older_versions,
    read_limits,
    save_tolerance_set,
    tolerance_sets,
)
from fieldlog.fieldwork.rig_life.rigs import ensure_rig, event_kind, rig_named, set_display_step
from fieldlog.records.check_entry import CheckEntry
from fieldlog.records.tolerance import Tolerances
from tests.simulation.rig import Place, SimulatedRig, check_entry

MASS = {
    "name": "mass set M1-04",
    "kind": "mass",
    "nominal": "20",
    "mass_class": "m1",
    "number": "K-77",
    "issued_by": "a laboratory",
    "issued_on": "2030-05-01",
    "due_on": "2031-05-25",
}


def test_a_standard_is_read_from_what_was_typed_and_back():
    standard = read_standard(MASS | {"standard_uncertainty": "0,0003", "value": "20,0001"})
    assert (standard.nominal, standard.unit, standard.mass_class) == (20.0, "kg", "M1")
    assert standard.standard_uncertainty == 0.0003
    assert standard.certificate.due_on == dt.date(2031, 5, 25)
    typed = typed_of(standard)
    assert typed["value"] == "20.0001"
    assert read_standard(typed, standard.id) == standard
    assert typed_of(None)["kind"] == "mass"


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"kind": "plate"}, "kind: 'plate' is none"),
        ({"nominal": "0"}, "nominal"),
        ({"nominal": ""}, "nominal"),
        ({"nominal": "12.5.3"}, "two decimal signs"),
        ({"mass_class": "F9"}, "class: 'F9' is none"),
        ({"kind": "lever"}, "only masses"),
        ({"due_on": "25.5.2031"}, "no date"),
        ({"due_on": "2029-01-01"}, "before"),
        ({"number": ""}, "no number"),
        ({"name": " "}, "name"),
        ({"standard_uncertainty": "-1"}, "standard_uncertainty"),
    ],
)
def test_a_wrong_field_of_a_standard_is_named(changed, said):
    with pytest.raises(InputError, match=said):
        read_standard(MASS | changed)


def test_a_standard_is_edited_and_two_cannot_share_a_name(field):
    kept = save_standard(field.workspace, read_standard(MASS), by="lead")
    later = read_standard(typed_of(kept.record) | {"due_on": "2032-05-25"}, kept.record.id)
    save_standard(field.workspace, later, by="lead", seen=kept)
    assert [each.record.certificate.due_on for each in standards_of(field.workspace)] == [
        dt.date(2032, 5, 25)
    ]
    with pytest.raises(InputError, match="already"):
        save_standard(field.workspace, read_standard(MASS | {"name": "MASS set M1-04"}), by="lead")


def test_an_overdue_certificate_is_told_with_its_days():
    standard = read_standard(MASS)
    assert certificate_words(standard, dt.date(2031, 5, 25)) == ("K-77, to 25 May 2031", False)
    assert certificate_words(standard, dt.date(2031, 5, 26)) == ("K-77, overdue by 1 day", True)
    without = read_standard({"name": "plate", "kind": "mass", "nominal": "10", "mass_class": "unweighed"})
    assert certificate_words(without, dt.date(2031, 5, 25)) == ("no certificate", False)


def entry_of(field, tolerance, gain=1.013):
    body = check_entry(
        SimulatedRig(slope_up=gain, slope_down=gain, noise_nm=0.0),
        Place(60.2, 4.0),
        name="rig B",
        stage="opening",
        at=field.clock("08:00").isoformat(),
        by="tester",
        masses_kg=(10.0, 20.0, 40.0),
        arm_m=0.75,
    )
    return CheckEntry.model_validate(body | {"tolerance": tolerance})


def test_a_check_is_judged_by_the_teams_own_set_and_says_its_version(field):
    ours = Tolerances(torque_pct=1.0, torque_floor_nm=0.5)
    save_tolerance_set(field.workspace, "field", ours, by="lead", why="new masses")
    judged = save_check(
        field.workspace, field.store, entry_of(field, "field"), today=field.visit.date, by="tester"
    ).judged
    assert judged["verdict"] in ("fail", "conditional fail")
    assert (judged["tolerance"]["version"], judged["tolerance"]["torque_pct"]) == (2, 1.0)


def test_a_set_with_a_name_of_its_own_can_be_named_by_checks(field):
    save_tolerance_set(field.workspace, "youth camp", Tolerances(torque_pct=5.0), by="lead", why="one visit")
    judged = save_check(
        field.workspace, field.store, entry_of(field, "youth camp"), today=field.visit.date, by="tester"
    ).judged
    assert judged["verdict"] == "pass"
    with pytest.raises(InputError, match="no set is called"):
        save_check(field.workspace, field.store, entry_of(field, "other"), today=field.visit.date, by="t")


def test_a_checks_verdict_stays_when_the_set_changes_after_it(field):
    saved = save_check(
        field.workspace, field.store, entry_of(field, "field"), today=field.visit.date, by="tester"
    )
    assert saved.judged["verdict"] == "pass"
    save_tolerance_set(field.workspace, "field", Tolerances(torque_pct=0.5), by="lead", why="stricter")
    again = save_check(
        field.workspace, field.store, entry_of(field, "field"), today=field.visit.date, by="tester"
    )
    assert not again.added
    assert again.judged["tolerance"]["version"] == 1


def test_every_version_is_kept_with_who_and_why_and_no_change_adds_none(field):
    ours = Tolerances(torque_pct=1.5)
    save_tolerance_set(field.workspace, "field", ours, by="lead", why="new masses")
    save_tolerance_set(field.workspace, "field", ours, by="lead", why="")
    save_tolerance_set(field.workspace, "field", Tolerances(torque_pct=1.2), by="second", why="better lever")
    found = [(version.version, by, why) for version, by, why in older_versions(field.workspace, "field")]
    assert found == [(2, "lead", "new masses"), (3, "second", "better lever")]
    assert tolerance_sets(field.workspace)["field"].version == 3
    with pytest.raises(RefusedError, match="no reason"):
        save_tolerance_set(field.workspace, "field", Tolerances(torque_pct=3.0), by="lead", why=" ")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"torque_pct": "150"}, "torque, share of the reference"),
        ({"zero_nm": "-1"}, "change of the zero"),
        ({"angle_deg": "x"}, "angle"),
        ({"torque_pct": "0", "torque_floor_nm": "0"}, "lets no check pass"),
    ],
)
def test_a_wrong_limit_is_named(changed, said):
    typed = {name: str(value) for name, value in Tolerances().model_dump().items()}
    assert read_limits(typed) == Tolerances()
    assert set(LIMIT_WORDS) == set(Tolerances.model_fields)
    with pytest.raises(InputError, match=said):
        read_limits(typed | changed)


def test_the_display_step_belongs_to_the_rig(field):
    rig, _ = ensure_rig(field.workspace, "rig B", "tester")
    assert rig.record.display_step_nm is None
    set_display_step(field.workspace, rig, 0.5, by="tester")
    kept = rig_named(field.workspace, "rig B")
    assert kept.record.display_step_nm == 0.5
    for wrong in (0.0, -0.1, 11.0, float("nan")):
        with pytest.raises(InputError, match="display step"):
            set_display_step(field.workspace, kept, wrong, by="tester")


def test_an_event_is_known_by_its_first_letters():
    assert event_kind("mov") == "moved"
    assert event_kind("unit changed") == "unit_changed"
    for wrong in ("", "x", " "):
        with pytest.raises(InputError, match="no event"):
            event_kind(wrong)
