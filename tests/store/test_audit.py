"""A workspace damaged by hand in many ways: each is named by its kind and file, and healed from a copy."""

import shutil

import orjson
import pytest

from fieldlog.errors import InputError
from fieldlog.records.site import Site
from fieldlog.store.audit import audit
from fieldlog.store.lines import Change
from fieldlog.store.repair import repair
from fieldlog.store.workspace import Workspace

SITE = "boathouse-aaaaaa"
DAY_MS = 24 * 3600 * 1000


def fill(workspace):
    """Put in every kind of file: active and sealed lines, a recording, a person."""
    site = workspace.add_site(
        Site(id="aaaaaaaaaaaa", name="Boathouse", latitude_deg=60, height_m=2), by="ann"
    )
    trace = site.traces.put(b"time_s,angle_deg,torque_nm\n0,10,5\n")
    for number in range(6):
        body = {"id": f"s{number}", "peak_torque_nm": 100 + number, "trace": trace}
        site.commit([Change("set", f"s{number}", body)], by="ann")
        if number in (1, 3):
            site.seal()
    workspace.team.commit([Change("rig", "r1", {"id": "r1", "name": "Blue"})], by="ann")
    workspace.persons.put({"athlete_id": "p1", "name": "Zdenka"})


@pytest.fixture
def workspace(tmp_path):
    with Workspace.create(tmp_path / "w") as made:
        fill(made)
    return made.path


@pytest.fixture
def copy(tmp_path, workspace):
    return shutil.copytree(workspace, tmp_path / "copy")


def verdict(path):
    with Workspace.open(path) as workspace:
        return audit(workspace)


def kinds(path):
    return sorted((problem["kind"], problem["file"]) for problem in verdict(path)["problems"])


def sealed(path):
    """The sealed files of the site, the earlier one first."""
    files = [file for file in (path / SITE / "sealed").iterdir() if file.suffix == ".jsonl"]
    return sorted(files, key=lambda file: orjson.loads(file.read_bytes().split(b"\n")[0][9:])["clock"])


def only(folder):
    (file,) = (path for path in folder.iterdir() if not path.name.startswith("."))
    return file


def change_bytes(file, old, new):
    data = file.read_bytes()
    assert old in data
    file.write_bytes(data.replace(old, new))


def relative(path, file):
    return file.relative_to(path).as_posix()


def tear_the_active_file(path):
    file = path / SITE / "active.jsonl"
    file.write_bytes(file.read_bytes()[:-40])
    return "torn", file


def flip_a_line_of_the_active_file(path):
    file = path / SITE / "active.jsonl"
    change_bytes(file, b'"peak_torque_nm":104', b'"peak_torque_nm":904')
    return "damaged", file


def flip_a_sealed_line(path):
    file = sealed(path)[0]
    change_bytes(file, b'"peak_torque_nm":100', b'"peak_torque_nm":900')
    return "damaged", file


def zero_a_sealed_file(path):
    file = sealed(path)[1]
    file.write_bytes(bytes(len(file.read_bytes())))
    return "damaged", file


def lose_a_sealed_file(path):
    file = sealed(path)[0]
    file.unlink()
    return "missing", file


def flip_a_recording(path):
    file = only(path / SITE / "traces")
    data = bytearray(file.read_bytes())
    data[20] ^= 1
    file.write_bytes(data)
    return "damaged", file


def lose_a_recording(path):
    file = only(path / SITE / "traces")
    file.unlink()
    return "missing_trace", file


def flip_a_persons_file(path):
    file = only(path / "team" / "persons")
    change_bytes(file, b"Zdenka", b"Zdenko")
    return "damaged", file


def damage_a_store_file(path):
    file = path / SITE / "store.json"
    file.write_bytes(b'{"format":1,"id"')
    return "damaged", file


def lose_a_store_file(path):
    file = path / "team" / "store.json"
    file.unlink()
    return "missing", file


def damage_the_workspace_file(path):
    file = path / "workspace.json"
    file.write_bytes(b"\0\0")
    return "damaged", file


def put_a_stranger_among_the_sealed(path):
    file = path / SITE / "sealed" / "notes.txt"
    file.write_bytes(b"mine")
    return "foreign", file


def put_a_stranger_into_the_store(path):
    file = path / SITE / "results.xlsx"
    file.write_bytes(b"mine")
    return "foreign", file


def put_persons_into_a_site(path):
    file = path / SITE / "persons"
    file.mkdir()
    return "foreign", file


def put_another_stores_file_among_the_sealed(path):
    with Workspace.open(path) as workspace:
        data = workspace.team.seal().read_bytes()
    import hashlib

    file = path / SITE / "sealed" / (hashlib.sha256(data).hexdigest() + ".jsonl")
    file.write_bytes(data)
    return "foreign", file


def put_a_recording_nobody_names(path):
    with Workspace.open(path) as workspace:
        store = workspace.sites[SITE]
        return "orphan_trace", store.traces.path(store.traces.put(b"time_s\n1\n"))


HEALABLE = [
    tear_the_active_file,
    flip_a_line_of_the_active_file,
    flip_a_sealed_line,
    zero_a_sealed_file,
    lose_a_sealed_file,
    flip_a_recording,
    lose_a_recording,
    flip_a_persons_file,
    damage_a_store_file,
    lose_a_store_file,
    damage_the_workspace_file,
]
OTHERS = [
    put_a_stranger_among_the_sealed,
    put_a_stranger_into_the_store,
    put_persons_into_a_site,
    put_another_stores_file_among_the_sealed,
    put_a_recording_nobody_names,
]


def test_a_whole_workspace_is_said_to_be_whole(workspace):
    assert verdict(workspace) == {"ok": True, "stores": 2, "records": 8, "problems": [], "notes": []}


@pytest.mark.parametrize("damage", HEALABLE + OTHERS, ids=lambda damage: damage.__name__)
def test_each_damage_is_named_by_kind_and_file(workspace, damage):
    kind, file = damage(workspace)
    before = {
        path: path.read_bytes() for path in workspace.rglob("*") if path.is_file() and path.name != ".checked"
    }
    assert kinds(workspace) == [(kind, relative(workspace, file))]
    assert all(path.read_bytes() == data for path, data in before.items()), "an audit changes nothing"


@pytest.mark.parametrize("damage", HEALABLE, ids=lambda damage: damage.__name__)
def test_each_damage_is_healed_from_a_copy(workspace, copy, damage):
    damage(workspace)
    with Workspace.open(workspace) as opened:
        assert repair(opened, copy)
    after = verdict(workspace)
    assert after["ok"], after
    assert after["records"] == 8
    with Workspace.open(workspace) as opened:
        assert repair(opened, copy) == []
        assert sorted(r.body["peak_torque_nm"] for r in opened.sites[SITE].documents("set")) == [
            *range(100, 106)
        ]
        assert opened.persons.for_athlete("p1")[0]["name"] == "Zdenka"


def test_all_damages_at_once_are_healed_from_a_copy(workspace, copy):
    for damage in HEALABLE:
        if damage not in (lose_a_sealed_file, lose_a_recording):
            damage(workspace)
    assert len(verdict(workspace)["problems"]) == 3  # a store whose own file is damaged is not read further
    with Workspace.open(workspace) as opened:
        repair(opened, copy)
    assert verdict(workspace)["ok"]
    assert verdict(workspace)["records"] == 8


def test_damage_sealed_away_is_still_named_and_can_still_be_healed(workspace, copy):
    flip_a_line_of_the_active_file(workspace)
    with Workspace.open(workspace) as opened:
        opened.sites[SITE].seal()
    ((kind, file),) = kinds(workspace)
    assert kind == "damaged"
    assert file.startswith(f"{SITE}/aside/damaged-")
    with Workspace.open(workspace) as opened:
        repair(opened, copy)
    assert verdict(workspace)["ok"]
    assert verdict(workspace)["records"] == 8


def test_a_folder_of_loose_files_heals_as_well_as_a_workspace(tmp_path, workspace):
    depot = tmp_path / "depot"
    depot.mkdir()
    for file in workspace.rglob("*"):
        if file.is_file() and len(file.name) >= 64:
            shutil.copy(file, depot / file.name)
    flip_a_sealed_line(workspace)
    lose_a_recording(workspace)
    with Workspace.open(workspace) as opened:
        repair(opened, depot)
    assert verdict(workspace)["ok"]


def test_a_bad_copy_does_no_harm(workspace, copy):
    for file in copy.rglob("*"):
        if file.is_file() and file.stat().st_size > 30:
            data = bytearray(file.read_bytes())
            data[len(data) // 2] ^= 0xFF
            file.write_bytes(data)
    lose_a_sealed_file(workspace)
    with Workspace.open(workspace) as opened:
        before = verdict(workspace)["problems"]
        repair(opened, copy)
    assert verdict(workspace)["problems"] == before


def test_a_copy_that_is_no_folder_is_refused(workspace, tmp_path):
    with Workspace.open(workspace) as opened, pytest.raises(InputError, match="no folder"):
        repair(opened, tmp_path / "nothing")


def test_an_erased_person_does_not_return_by_a_repair(workspace, copy):
    with Workspace.open(workspace) as opened:
        opened.persons.erase("p1", by="ann")
        repair(opened, copy)
        assert opened.persons.all() == []


def test_what_an_ended_process_or_the_system_left_behind_is_ignored(workspace):
    for name in ("lock", ".DS_Store", "sealed/.x.part", "traces/.y.csv.gz.12.part", ".z.part"):
        (workspace / SITE / name).write_bytes(b"half")
    (workspace / "out").mkdir()
    (workspace / "readme.txt").write_bytes(b"mine")
    assert verdict(workspace)["ok"]


def test_conflicts_and_suspect_clocks_are_notes(workspace):
    year = 365 * DAY_MS
    with Workspace.open(workspace, now_ms=lambda: 1_700_000_000_000 + 60 * year) as wrong:
        store = wrong.sites[SITE]
        shown = store.shown("set", "s0")
        store.commit([Change("set", "s0", {"id": "s0", "note": "one"}, (shown.id,))], by="ann")
    with Workspace.open(workspace) as opened:
        store = opened.sites[SITE]
        store.commit([Change("set", "s0", {"id": "s0", "note": "two"}, (shown.id,))], by="bea")
        ahead = store.heads("set", "s0")[0]
        store.commit([Change("set", "s0", {"id": "s0", "note": "three"}, (ahead.id,))], by="bea")
    found = verdict(workspace)
    assert found["ok"]
    notes = "\n".join(found["notes"])
    assert "conflict in set s0: bea" in notes
    assert "more than a day ahead" in notes
    assert "more than a day before what they change" in notes


def test_records_that_cannot_be_shown_are_notes(workspace):
    with Workspace.open(workspace) as opened:
        newer = {"schema_version": 99, "id": "m1", "colour": "red"}
        opened.team.commit([Change("standards", "m1", newer)], by="lead")
        opened.team.commit([Change("standards", "m2", {"id": "m2", "name": 5})], by="lead")
    found = verdict(workspace)
    assert found["ok"], "nothing is lost, so nothing is damaged"
    first, second = (note for note in found["notes"] if "not shown" in note)
    assert "team: not shown: standards m1 has schema 99" in first
    assert "it needs a newer fieldlog" in first
    assert "standards m2: name" in second
    assert "written by lead" in second


def test_a_recording_left_in_a_depot_on_purpose_is_a_note(workspace):
    _, file = lose_a_recording(workspace)
    with Workspace.open(workspace) as opened:
        opened.sites[SITE].traces.leave_elsewhere([file.name.removesuffix(".csv.gz")])
    found = verdict(workspace)
    assert found["ok"]
    assert "1 recordings were left in a depot" in found["notes"][0]


def test_a_recording_named_only_by_an_older_revision_is_no_orphan(workspace):
    with Workspace.open(workspace) as opened:
        store = opened.sites[SITE]
        for revision in list(store.documents("set")):
            store.commit(
                [Change("set", revision.document, {"id": revision.document}, (revision.id,))], by="ann"
            )
    assert verdict(workspace)["ok"]


def test_progress_names_each_store_and_can_stop_the_audit(workspace):
    seen = []
    with Workspace.open(workspace) as opened:
        audit(opened, progress=seen.append)

        def stop(_name):
            raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            audit(opened, progress=stop)
    assert seen == ["team", SITE]
