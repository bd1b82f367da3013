"""``fieldlog new``, ``site add`` and ``audit`` as a person or a script calls them."""

import shutil

import pytest


@pytest.fixture
def workspace(fieldlog, tmp_path):
    path = tmp_path / "w"
    assert fieldlog("new", path).status == 0
    return path


def add(fieldlog, workspace, name="Boathouse", *options):
    return fieldlog(
        "--workspace", workspace, "site", "add", name, "--latitude", "60.1", "--height", "4", *options
    )


def test_new_makes_an_empty_workspace_and_refuses_a_folder_in_use(fieldlog, workspace):
    again = fieldlog("new", workspace)
    assert (again.status, again.out) == (2, "")
    assert "is a workspace already; open it: fieldlog open" in again.err
    assert fieldlog("--workspace", workspace, "audit", "--json").json == {
        "ok": True,
        "stores": 1,
        "records": 0,
        "problems": [],
        "notes": [],
    }


def test_new_as_json(fieldlog, tmp_path):
    made = fieldlog("new", tmp_path / "x", "--json")
    assert made.status == 0
    assert set(made.json) == {"workspace", "id"}


def test_a_site_is_added_and_named_by_its_id(fieldlog, workspace):
    made = add(fieldlog, workspace, "Boathouse", "--json").json
    assert made["site"] == "Boathouse"
    assert (workspace / made["folder"] / "store.json").is_file()
    assert add(fieldlog, workspace).status == 2


@pytest.mark.parametrize(
    ("latitude", "height", "named"),
    [
        ("91", "0", "latitude_deg"),
        ("nan", "0", "latitude_deg"),
        ("0", "inf", "height_m"),
        ("x", "0", "latitude"),
    ],
)
def test_an_impossible_place_is_refused_in_one_line(fieldlog, workspace, latitude, height, named):
    refused = fieldlog(
        "--workspace", workspace, "site", "add", "A", f"--latitude={latitude}", f"--height={height}"
    )
    assert (refused.status, refused.out) == (2, "")
    assert named in refused.err
    assert refused.err.count("\n") == 1


def test_a_hostile_name_is_kept_and_shown_harmless(fieldlog, workspace):
    made = add(fieldlog, workspace, "Boat\x1b[31m [/x] =cmd()")
    assert made.status == 0
    assert "\x1b" not in made.out


def test_a_folder_that_is_no_workspace_says_how_to_make_one(fieldlog, tmp_path):
    refused = fieldlog("--workspace", tmp_path, "audit")
    assert (refused.status, refused.out) == (2, "")
    assert f"fieldlog new {tmp_path}" in refused.err


def test_the_workspace_comes_from_the_environment_where_none_is_named(fieldlog, workspace, monkeypatch):
    monkeypatch.setenv("FIELDLOG_WORKSPACE", str(workspace))
    assert fieldlog("audit").status == 0


def test_the_platforms_data_folder_is_the_last_resort(monkeypatch, tmp_path):
    from fieldlog.cli.location import workspace_path

    monkeypatch.delenv("FIELDLOG_WORKSPACE", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert workspace_path(None).name == "workspace"
    assert workspace_path("given").name == "given"


def test_who_is_at_the_keyboard_comes_from_the_environment_or_the_system(monkeypatch):
    from fieldlog.cli.location import who

    monkeypatch.setenv("FIELDLOG_BY", "  Ann ")
    assert who() == "Ann"
    monkeypatch.delenv("FIELDLOG_BY")
    monkeypatch.setenv("LOGNAME", "tester")
    assert who() == "tester"


def test_audit_leaves_with_one_where_something_is_wrong_and_heals(fieldlog, workspace, tmp_path):
    folder = add(fieldlog, workspace, "Boathouse", "--json").json["folder"]
    copy = shutil.copytree(workspace, tmp_path / "copy")
    active = workspace / folder / "active.jsonl"
    active.write_bytes(active.read_bytes()[:-9])
    found = fieldlog("--workspace", workspace, "audit", "--json")
    assert found.status == 1
    assert found.json["problems"] == [
        {"kind": "torn", "file": f"{folder}/active.jsonl", "text": found.json["problems"][0]["text"]}
    ]
    told = fieldlog("--workspace", workspace, "audit")
    assert told.status == 1
    assert told.out.startswith("torn ")
    healed = fieldlog("--workspace", workspace, "audit", "--repair-from", copy)
    assert healed.status == 0
    assert "repaired" in healed.out
    assert fieldlog("--workspace", workspace, "audit", "--repair-from", copy / "none").status == 2


def test_a_new_workspace_is_not_made_where_a_file_or_something_else_lies(fieldlog, tmp_path):
    (tmp_path / "file").write_text("x")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").write_text("x")
    assert "is a file; name a new folder" in fieldlog("new", tmp_path / "file").err
    assert "is not empty; name a new folder" in fieldlog("new", tmp_path / "full").err
