"""A flipped bit in any file: noticed, or without any meaning; and never a wrong record shown."""

import random
import shutil

import pytest

from fieldlog.errors import FieldlogError
from fieldlog.store.audit import audit
from fieldlog.store.lines import Change
from fieldlog.store.repair import repair
from fieldlog.store.workspace import Workspace
from tests.faults.counts import SCALE
from tests.faults.failing_disk import HastyDisk

MEANINGLESS = {"lock", ".checked", "device.json"}


@pytest.fixture
def pristine(tmp_path):
    path = tmp_path / "pristine"
    with Workspace.create(path, disk=HastyDisk()) as workspace:
        site = workspace.adopt_site("aaaaaaaaaaaa", "Mill")
        trace = site.traces.put(b"time_s,angle_deg,torque_nm\n" + b"0.01,10.5,5.25\n" * 40)
        for number in range(8):
            site.commit([Change("set", f"s{number}", {"v": number, "trace": trace})], by="ann")
            if number % 3 == 2:
                site.seal()
        shown = site.shown("set", "s1")
        site.commit([Change("set", "s1", {"v": 100, "trace": trace}, (shown.id,))], by="bea", why="mend")
        workspace.persons.put({"athlete_id": "p1", "name": "Zdenka"})
        workspace.team.commit([Change("rig", "r1", {"v": 1})], by="ann")
    with Workspace.open(path, disk=HastyDisk()) as workspace:
        assert audit(workspace)["ok"]
    return path


def all_bodies(workspace):
    return {r.id: r.body for store in workspace.stores() for r in store.revisions()}


def test_no_flipped_bit_goes_unnoticed_or_shows_a_wrong_record(tmp_path, pristine, tally):
    with Workspace.open(pristine, disk=HastyDisk()) as workspace:
        truth = all_bodies(workspace)
    files = [path for path in sorted(pristine.rglob("*")) if path.is_file() and path.stat().st_size]
    chance = random.Random(3)
    for number in range(90 * SCALE):
        file = files[number % len(files)]
        copy = tmp_path / "copy"
        shutil.copytree(pristine, copy)
        target = copy / file.relative_to(pristine)
        data = bytearray(target.read_bytes())
        position = chance.randrange(8 * len(data))
        data[position // 8] ^= 1 << position % 8
        target.write_bytes(data)
        where = f"{file.name}, bit {position}"
        try:
            with Workspace.open(copy, disk=HastyDisk()) as workspace:
                verdict = audit(workspace)
                shown = {}
                for store in workspace.sites.values():
                    shown |= {r.id: r.body for r in store.revisions()}
                    for name in store.traces.names():
                        try:
                            assert name in store.traces.path(name).name
                            store.traces.get(name)
                        except FieldlogError:
                            assert not verdict["ok"]
                assert all(truth[identity] == body for identity, body in shown.items()), where
                if verdict["ok"]:
                    assert target.name in MEANINGLESS or len(shown) >= len(truth) - 1, where
                    tally["without meaning"] += 1
                else:
                    tally["noticed"] += 1
                    repair(workspace, pristine)
            with Workspace.open(copy, disk=HastyDisk()) as workspace:
                healed = audit(workspace)
                assert healed["ok"], (where, healed)
                assert all_bodies(workspace) == truth, where
        except FieldlogError as error:
            # Only a format number that became a larger one may keep a workspace shut.
            assert "newer fieldlog" in str(error), where  # noqa: PT017 (which errors come is the question)
            tally["refused as newer"] += 1
        shutil.rmtree(copy)
        tally["points"] += 1
