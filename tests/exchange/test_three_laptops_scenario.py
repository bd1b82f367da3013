"""Three testers come home after a week apart: over a stick or over the team base, all end up with the same."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from fieldlog.exchange.conflicts import open_conflicts
from fieldlog.exchange.likeness import likenesses
from fieldlog.fieldwork.rig_life.life import rig_life
from fieldlog.records.athlete import Athlete
from fieldlog.records.rig import Rig, rig_id
from fieldlog.records.site import Site
from fieldlog.store.repo import Repo
from fieldlog.store.workspace import Workspace

TESTERS = ("kestrel", "heron", "lead")
RECORDING = b"time_s,angle_deg,torque_nm\n0,0,0\n"


def run(workspace: Path, *arguments: str) -> int:
    from fieldlog.cli.main import main

    with pytest.raises(SystemExit) as left:
        main(["--workspace", str(workspace), *map(str, arguments)])
    return left.value.code


def a_check(folder: Path, name: str, at: str, reading_nm: float) -> Path:
    points = [
        {"mass_kg": 10, "arm_m": 0.5, "direction": direction, "run": "loading", "reading_nm": reading_nm}
        for direction in ("up", "down")
    ]
    body = {
        "rig": "rig A", "stage": "opening", "at": at, "by": "Ana", "torque": points,
        "tare": {"up_before_nm": 0, "up_after_nm": 0, "down_before_nm": 0, "down_after_nm": 0},
    }  # fmt: skip
    path = folder / f"{name}.json"
    path.write_text(json.dumps(body))
    return path


@pytest.fixture
def week(tmp_path, monkeypatch, capfd) -> Path:
    """One shared start, then a week in which nobody meets."""
    home = tmp_path / "week"
    home.mkdir()
    stick = tmp_path / "first stick"
    for name in TESTERS:
        Workspace.create(home / name).close()
    with Workspace.open(home / "lead") as lead:
        lead.add_site(Site(id="boathouse", name="Boathouse", latitude_deg=52.5, height_m=30), by="lead")
        Repo(lead.team, Rig).save(Rig(id=rig_id("rig A"), name="rig A"), by="lead")
    for name in ("lead", "kestrel", "heron"):
        assert run(home / name, "sync", stick) == 0
    monkeypatch.setenv("FIELDLOG_TODAY", "2031-05-10")
    check = a_check(tmp_path, "monday", "2031-05-05T09:00:00+02:00", 49.05)
    assert run(home / "kestrel", "check", check, "--save", "--site", "Boathouse") in (0, 1)
    with Workspace.open(home / "kestrel") as kestrel:
        boathouse = kestrel.site_named("Boathouse")
        boathouse.traces.put(RECORDING)
        Repo(kestrel.team, Athlete).save(Athlete(id="a1", code="R7"), by="kestrel")
        kestrel.persons.put({"athlete_id": "a1", "name": "Invented Person"})
        rig = Repo(kestrel.team, Rig).get(rig_id("rig A"))
        Repo(kestrel.team, Rig).save(
            rig.record.model_copy(update={"serial": "0042"}), by="kestrel", seen=rig.revision
        )
    assert run(home / "heron", "site", "add", "Old pool", "--latitude", "47.4", "--height", "410") == 0
    check = a_check(tmp_path, "tuesday", "2031-05-06T10:00:00+02:00", 49.3)
    assert run(home / "heron", "check", check, "--save", "--site", "Old pool") in (0, 1)
    with Workspace.open(home / "heron") as heron:
        Repo(heron.team, Athlete).save(Athlete(id="a2", code="R7"), by="heron")
        rig = Repo(heron.team, Rig).get(rig_id("rig A"))
        Repo(heron.team, Rig).save(
            rig.record.model_copy(update={"note": "lever bent on Thursday"}), by="heron", seen=rig.revision
        )
    capfd.readouterr()
    return home


def come_home(home: Path, depot_of) -> dict:
    """Everybody syncs, the lead settles what is open, everybody syncs again; return what they end up with."""
    news = {name: run(home / name, "sync", depot_of(name)) for name in ("kestrel", "heron", "lead")}
    with Workspace.open(home / "lead") as lead:
        (conflict,) = open_conflicts(lead)
        assert conflict.combinable
        assert {difference.field for difference in conflict.differences} == {"serial", "note"}
        (pair,) = likenesses(lead)
    assert (
        run(home / "lead", "conflicts", "--combine", conflict.conflict.document, "--why", "both are right")
        == 0
    )
    assert run(home / "lead", "conflicts", "--join", pair.first.id, pair.second.id) == 0
    for name in ("lead", "heron", "kestrel", "lead"):
        assert run(home / name, "sync", depot_of(name), "--with-traces") in (0, 1)
    found = {}
    for name in TESTERS:
        with Workspace.open(home / name) as workspace:
            assert open_conflicts(workspace) == []
            assert likenesses(workspace) == []
            life = rig_life(workspace, "rig A")
            found[name] = {
                "records": sorted(
                    (store.id, head.table, head.document, head.raw)
                    for store in workspace.stores()
                    for table in store.tables()
                    for head in store.documents(table)
                    if table != "kinships" and head.why != "both are right"
                ),
                "rig": Repo(workspace.team, Rig).get(rig_id("rig A")).record,
                "sites": [check["site"] for check in life["checks"]],
                "revisions": {store.id: len(store.revisions()) for store in workspace.stores()},
            }
    assert found["kestrel"] == found["heron"] == found["lead"]
    return {**found["lead"], "news": news}


def test_a_stick_and_the_team_base_give_the_same_outcome(week, tmp_path, base, capfd) -> None:
    shutil.copytree(week, tmp_path / "again")
    over_stick = come_home(week, lambda _name: tmp_path / "stick")
    over_base = come_home(tmp_path / "again", lambda name: base.url("lead" if name == "lead" else "tester"))
    assert over_stick == over_base
    assert over_stick["news"] == {"kestrel": 0, "heron": 1, "lead": 1}
    assert (over_stick["rig"].serial, over_stick["rig"].note) == ("0042", "lever bent on Thursday")
    assert over_stick["sites"] == ["Boathouse", "Old pool"]
    assert base.rows("select site, verdict from fieldlog.rig_history order by happened_at", "lead") != []
    # A tester's laptop sees no persons files over the base; over the stick the team shares them.
    with Workspace.open(tmp_path / "again" / "heron") as heron, Workspace.open(week / "heron") as shared:
        assert (len(heron.persons.all()), len(shared.persons.all())) == (0, 1)
    capfd.readouterr()
