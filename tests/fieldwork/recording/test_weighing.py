"""A sweep weighs one limb as it lies on the rig; an evenly tensed one is found by comparing."""

import datetime as dt
from dataclasses import replace

import pytest

from fieldlog.errors import RefusedError
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.recording.body_segments import handbook_range_nm
from fieldlog.fieldwork.recording.weighing import Occasion
from fieldlog.fieldwork.results.imports import analyse_import
from fieldlog.fieldwork.results.sets import (
    add_set,
    leave_out,
    reanalyse,
    reload_recording,
    sets_of,
)
from fieldlog.fieldwork.visit.visits import ensure_visit, find_visit
from fieldlog.records.effort_set import EffortSet, LeaveOut
from fieldlog.records.recipe import TraceOptions
from fieldlog.records.setup import Setup
from fieldlog.store.workspace import Workspace

ACADEMY, HALL = "Tarn academy", "Lowfield hall"


def heavier(sweep: bytes, factor: float) -> bytes:
    """The same sweep of a limb that weighs or is tensed that many times as much."""
    lines = sweep.decode().splitlines()
    head = next(at for at, line in enumerate(lines) if "torque_nm" in line)
    column = lines[head].split(",").index("torque_nm")
    for at in range(head + 1, len(lines)):
        cells = lines[at].split(",")
        cells[column] = f"{float(cells[column]) * factor:.4f}"
        lines[at] = ",".join(cells)
    return "\n".join(lines).encode()


def another(data: bytes) -> bytes:
    """A recording with the same samples that is not the same file."""
    return data + b"\n# recorded once more\n"


class Rig:
    """The knee sets of one athlete of the academy, and what keeping one more of them takes."""

    def __init__(self, workspace: Workspace, code: str = "T04") -> None:
        self.workspace = workspace
        self.store = workspace.site_named(ACADEMY)
        self.visit = find_visit(self.store).record
        self.athlete = athlete_named(workspace, code).record
        self.sets = sets_of(self.store, self.visit.id, self.athlete.id)

    def kept(self, side: str, speed_deg_s: float = 60.0):
        return next(k for k in self.sets if (k.record.side, k.record.speed_deg_s) == (side, speed_deg_s))

    def import_of(self, side: str, **changes):
        recording = reload_recording(self.store, self.kept(side).record)
        return replace(recording, data=another(recording.data), **changes)

    def keep(self, import_, *, side: str = "right", later_d: int = 0, **changes):
        record = self.kept(side).record
        told = {
            "visit_id": self.visit.id,
            "batch_id": record.batch_id,
            "athlete_id": self.athlete.id,
            "protocol_id": record.protocol_id,
            "rig_id": record.rig_id,
            "setup_id": record.setup_id,
            "at": record.at + dt.timedelta(days=later_d, hours=1),
        }
        if later_d:
            day = self.visit.date + dt.timedelta(days=later_d)
            told["visit_id"] = ensure_visit(self.store, day, "tester 1").record.id
        return add_set(self.workspace, self.store, import_, **{**told, **changes}, by="tester 1").record

    def change_setup(self, key: str, reading: float) -> None:
        repo = at_site(self.store, Setup)
        kept = repo.get(self.kept("right").record.setup_id)
        steps = [
            step.model_copy(update={"reading": reading}) if step.key == key else step
            for step in kept.record.steps
        ]
        repo.save(kept.record.model_copy(update={"steps": tuple(steps)}), by="tester 1", seen=kept.revision)


@pytest.fixture
def rig(sample: Workspace) -> Rig:
    return Rig(sample)


def texts(record: EffortSet, code: str = "not_relaxed") -> list[str]:
    return [entry["text"] for entry in record.measures["quality"] if entry["code"] == code]


def test_nothing_is_said_of_a_limb_that_weighs_what_it_should(sample: Workspace) -> None:
    for code in ("T01", "T02", "T03", "T04"):
        rig = Rig(sample, code)
        for kept in rig.sets:
            record = kept.record
            setup = at_site(rig.store, Setup).get(record.setup_id)
            occasion = Occasion(
                sample,
                rig.store,
                record.visit_id,
                record.athlete_id,
                record.protocol_id,
                record.rig_id,
                record.side,
                record.at,
                setup.record,
            )
            measures = analyse_import(reload_recording(rig.store, record), occasion=occasion).measures
            assert measures["quality"] == [], code


def test_a_limb_a_quarter_heavier_than_the_other_side_is_remarked(rig: Rig) -> None:
    sweep = heavier(rig.import_of("right").sweep, 1.25)
    (text,) = texts(rig.keep(rig.import_of("right", sweep=sweep)))
    assert "27 % more than on the other side" in text
    assert "weigh again" in text


def test_a_limb_a_sixth_lighter_than_at_the_last_visit_is_remarked(rig: Rig) -> None:
    light = rig.keep(rig.import_of("right", sweep=heavier(rig.import_of("right").sweep, 0.83)), later_d=7)
    (text,) = texts(light)
    assert "17 % less than at the last visit" in text
    same = rig.keep(
        replace(
            rig.import_of("right", sweep=heavier(rig.import_of("right").sweep, 0.9)),
            data=another(another(rig.import_of("right").data)),
        ),
        later_d=14,
    )
    assert texts(same) == []


def test_a_weighing_that_was_not_relaxed_itself_is_no_yardstick(rig: Rig) -> None:
    bad = {"code": "not_relaxed", "level": "stop", "text": "A burst."}
    for kept in rig.sets:
        measures = {**kept.record.measures, "quality": [bad]}
        changed = kept.record.model_copy(update={"measures": measures})
        at_site(rig.store, EffortSet).save(changed, by="tester 1", seen=kept.revision)
    sweep = heavier(rig.import_of("right").sweep, 1.25)
    said = texts(rig.keep(rig.import_of("right", sweep=sweep), later_d=7))
    assert not any("last visit" in text or "other side" in text for text in said)


def test_a_limb_far_from_the_handbook_is_remarked_where_there_is_nothing_else(rig: Rig) -> None:
    for factor in (0.4, 1.8):
        import_ = rig.import_of("right", sweep=heavier(rig.import_of("right").sweep, factor))
        fresh = athlete_named(rig.workspace, "R05").record.id
        record = rig.keep(replace(import_, data=import_.data + f"# {factor}\n".encode()), athlete_id=fresh)
        (text,) = texts(record)
        assert "times what a body of this size has" in text


def test_the_handbook_says_what_shank_and_foot_weigh_only_for_the_knee() -> None:
    # 80 kg, 0.4 m of shank: 11.6005 N·m (Winter 2009, table 4.1: 0.061 of the mass at 0.606 of the length).
    least, _ = handbook_range_nm("knee", 80.0, 35.0)
    _, greatest = handbook_range_nm("knee", 80.0, 25.0)
    assert least == greatest == pytest.approx(11.6005, abs=2e-4)
    assert handbook_range_nm("trunk", 80.0, 35.0) is None
    assert handbook_range_nm("other", 80.0, 35.0) is None


def test_the_remark_stays_when_a_repetition_is_left_out(rig: Rig) -> None:
    sweep = heavier(rig.import_of("right").sweep, 1.25)
    record = rig.keep(rig.import_of("right", sweep=sweep))
    kept = at_site(rig.store, EffortSet).get(record.id)
    changed = leave_out(rig.store, kept, [LeaveOut(index=1, reason="cough")], by="tester 1")
    assert texts(changed.record) == texts(record) != []


@pytest.mark.parametrize(
    ("changes", "later_d", "what"),
    [
        ({}, 7, "another day"),
        ({"rig_id": "another"}, 0, "another rig"),
        ({"athlete_id": "somebody"}, 0, "another athlete"),
    ],
)
def test_a_sweep_of_another_occasion_is_refused(rig: Rig, changes: dict, later_d: int, what: str) -> None:
    before = len(at_site(rig.store, EffortSet).all())
    with pytest.raises(RefusedError, match=rf"weighed T04, right, on .* \(set \d\): {what}"):
        rig.keep(rig.import_of("right"), later_d=later_d, **changes)
    assert len(at_site(rig.store, EffortSet).all()) == before


def test_a_sweep_of_the_other_side_is_refused(rig: Rig) -> None:
    with pytest.raises(RefusedError, match="another side"):
        rig.keep(rig.import_of("right", sweep=rig.import_of("left").sweep))


def test_a_sweep_under_another_lever_length_is_refused_with_both_readings(rig: Rig) -> None:
    record = rig.keep(rig.import_of("right"))
    assert record.options["weighed_at"] == {"lever_length": 32.0}
    rig.change_setup("lever_length", 34.0)
    import_ = rig.import_of("right")
    # Known from what was kept with the first set, although the setup has been changed since.
    with pytest.raises(RefusedError, match=r"lever length was 32\.0 cm and is 34\.0 cm now"):
        rig.keep(replace(import_, data=another(import_.data)))


def test_a_lever_within_its_tolerance_keeps_the_sweep(rig: Rig) -> None:
    rig.keep(rig.import_of("right"))
    rig.change_setup("lever_length", 32.5)
    import_ = rig.import_of("right")
    assert rig.keep(replace(import_, data=another(import_.data))).sweep_trace


def trunk_set(sample: Workspace):
    store = sample.site_named(HALL)
    return store, sets_of(store, find_visit(store).record.id)[0]


def keep_trunk(sample: Workspace, **changes):
    store, kept = trunk_set(sample)
    record = kept.record
    import_ = reload_recording(store, record)
    return add_set(
        sample,
        store,
        replace(import_, data=another(import_.data), **changes),
        visit_id=record.visit_id,
        batch_id=record.batch_id,
        athlete_id=record.athlete_id,
        protocol_id=record.protocol_id,
        rig_id=record.rig_id,
        setup_id=record.setup_id,
        at=record.at,
        by="tester 1",
    ).record


def test_the_trunk_is_not_corrected_by_default_and_says_so_once(sample: Workspace) -> None:
    (text,) = texts(keep_trunk(sample), "gravity_missing")
    assert text.startswith("The weight of the trunk is not corrected, by default")


def test_a_trunk_that_was_weighed_says_what_it_compares_with(sample: Workspace) -> None:
    options = TraceOptions(gravity_fit=(0.0, 60.0, 0.0))
    record = keep_trunk(sample, recipe=options)
    assert texts(record, "gravity_missing") == []
    (text,) = texts(record, "trunk_weighed")
    assert "only with visits where it was taken out too" in text


def test_a_trunk_weighed_afterwards_changes_its_words(sample: Workspace) -> None:
    plain = keep_trunk(sample)
    store, _ = trunk_set(sample)
    kept = at_site(store, EffortSet).get(plain.id)
    options = TraceOptions(gravity_fit=(0.0, 60.0, 0.0))
    weighed = reanalyse(store, kept, options, by="tester 2", why="weight asked for").record
    assert (texts(weighed, "gravity_missing"), len(texts(weighed, "trunk_weighed"))) == ([], 1)
    assert texts(plain, "trunk_weighed") == []


def test_the_recording_of_a_set_is_no_sweep(rig: Rig) -> None:
    effort = reload_recording(rig.store, rig.kept("left").record).data
    with pytest.raises(RefusedError, match=r"the recording of set \d of T04"):
        rig.keep(rig.import_of("right", sweep=effort))


def test_analysing_again_keeps_the_result_before_in_the_history(rig: Rig) -> None:
    kept = rig.kept("right")
    before = kept.record.measures
    changed = reanalyse(
        rig.store, kept, TraceOptions(cutoff_hz=8.0), by="tester 2", why="8 Hz, as last season"
    )
    assert changed.record.measures["recipe"]["cutoff_hz"] == 8.0
    assert (
        changed.record.measures["set"]["up"]["best_peak_torque_nm"]
        != before["set"]["up"]["best_peak_torque_nm"]
    )
    older, newer = at_site(rig.store, EffortSet).history(kept.record.id)[-2:]
    assert older.body["measures"] == before
    assert (newer.by, newer.why) == ("tester 2", "8 Hz, as last season")
    assert newer.parents == (older.id,)


def test_what_is_kept_with_the_set_computes_the_same_measures_again(rig: Rig) -> None:
    options = TraceOptions(cutoff_hz=8.0, band_pct=8.0, at_deg=(45.0,), drop=1)
    changed = reanalyse(rig.store, rig.kept("right"), options, by="tester 2", why="a wider band")
    again = reload_recording(rig.store, changed.record)
    assert analyse_import(again).measures == changed.record.measures
    left = leave_out(rig.store, changed, [LeaveOut(index=3, reason="slip")], by="tester 2")
    assert left.record.measures["recipe"]["cutoff_hz"] == 8.0
    back = reanalyse(rig.store, left, TraceOptions(), by="tester 2", why="as all others")
    assert back.record.measures["recipe"]["leave_out"] == [3]


@pytest.mark.parametrize(
    "options",
    [
        {"speed_deg_s": 90.0},
        {"mode": "eccentric"},
        {"body_mass_kg": 99.0},
        {"leave_out": (2,)},
    ],
)
def test_another_recipe_does_not_change_what_the_set_was(rig: Rig, options: dict) -> None:
    with pytest.raises(RefusedError, match=next(iter(options))):
        reanalyse(rig.store, rig.kept("right"), TraceOptions(**options), by="tester 2", why="why not")


def test_nothing_is_analysed_again_without_a_reason(rig: Rig) -> None:
    with pytest.raises(RefusedError, match="without a reason"):
        reanalyse(rig.store, rig.kept("right"), TraceOptions(cutoff_hz=8.0), by="tester 2", why=" ")
