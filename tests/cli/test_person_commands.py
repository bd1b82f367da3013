"""``fieldlog person copy`` and ``erase``: all that is held, then not a byte of it that names the person."""

import pytest

from fieldlog.cli.main import COMMANDS
from fieldlog.exchange.likeness import decide_kinship
from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.records.site import Site
from fieldlog.store.lines import Change
from fieldlog.store.workspace import Workspace

NAME = "Zdenka Quillfeather"


@pytest.fixture
def call(fieldlog, monkeypatch, tmp_path):
    monkeypatch.setitem(COMMANDS, "person", ("person", "person"))
    path = tmp_path / "w"
    with Workspace.create(path) as workspace:
        one = add_athlete(workspace, "R07", by="ann").record.id
        add_athlete(workspace, "R08", by="ann")
        workspace.persons.put(
            {"athlete_id": one, "kind": "person", "name": NAME, "at": "2031-05-04T09:00:00+02:00"}
        )
        site = workspace.add_site(Site(id="site01", name="Mill", latitude_deg=1, height_m=2), by="ann")
        trace = site.traces.put(b"time_s,torque_nm\n0,5\x1b[31m\n")
        gone = "1" * 64
        body = {"id": "s1", "athlete_id": one, "peak_torque_nm": 101.5, "trace": trace, "gravity_trace": gone}
        made = site.commit([Change("sets", "s1", body)], by="bea")[0]
        later = {**body, "peak_torque_nm": 99.5, "left_out": True, "note": "", "flags": ["clipped"]}
        site.commit([Change("sets", "s1", later, (made.id,))], by="bea", why="clipped at the top")
        site.commit([Change("sets", "s2", {"id": "s2", "athlete_id": "somebody"})], by="bea")

    def run(*arguments):
        return fieldlog("--workspace", path, "person", *arguments)

    run.path = path
    return run


def holding(folder, text):
    return [path for path in folder.rglob("*") if path.is_file() and text.encode() in path.read_bytes()]


def test_a_copy_holds_data_records_history_and_recordings_in_plain_text(call, tmp_path):
    file = tmp_path / "copy.txt"
    told = call("copy", "R07", "-o", file)
    assert told.status == 0
    text = file.read_text(encoding="utf-8")
    for expected in (
        NAME,
        "athlete R07",
        "peak_torque_nm: 101.5",
        "peak_torque_nm: 99.5",
        "because: clipped at the top",
        "left_out: yes",
        "note: none",
        "- clipped",
        "written by bea",
        "time_s,torque_nm",
        "not on this laptop",
    ):
        assert expected in text
    assert "\x1b" not in text
    assert "somebody" not in text
    assert "1 recordings are not on this laptop" in told.out


def test_a_copy_as_json_counts(call, tmp_path):
    counted = call("copy", "R07", "-o", tmp_path / "copy.txt", "--json").json
    assert (counted["entries"], counted["records"], counted["recordings"]) == (1, 2, 2)
    assert counted["recordings_elsewhere"] == 1


def test_a_copy_that_cannot_be_written_says_so(call, tmp_path):
    refused = call("copy", "R07", "-o", tmp_path / "none" / "copy.txt")
    assert (refused.status, refused.out) == (2, "")


def test_erasing_leaves_no_byte_that_names_the_person_and_keeps_the_measurements(call):
    assert holding(call.path, NAME)
    told = call("erase", "R07")
    assert told.status == 0
    assert holding(call.path, NAME) == []
    with Workspace.open(call.path) as workspace:
        assert workspace.site_named("Mill").shown("sets", "s1").body["peak_torque_nm"] == 99.5
    assert call("erase", "R07", "--json").json == {"athlete": "R07", "erased_files": 0}


def test_a_person_entered_twice_is_copied_and_erased_as_one(call, tmp_path):
    with Workspace.open(call.path) as workspace:
        first = workspace.persons.all()[0]["athlete_id"]
        second = add_athlete(workspace, "R7", by="bea").record.id
        workspace.persons.put({"athlete_id": second, "name": NAME, "contact": "coach"})
        decide_kinship(workspace, first, second, same=True, by="ann", why="the same person")
    file = tmp_path / "copy.txt"
    assert call("copy", "R7", "-o", file, "--json").json["entries"] == 2
    assert call("erase", "R7", "--json").json["erased_files"] == 2
    assert holding(call.path, NAME) == []


@pytest.mark.parametrize("action", [["erase"], ["copy", "-o", "x.txt"]])
def test_an_unknown_code_is_refused(call, action):
    refused = call(action[0], "X99", *action[1:])
    assert (refused.status, refused.out) == (2, "")
    assert "X99" in refused.err
    assert refused.err.count("\n") == 1
