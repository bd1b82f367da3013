"""A folder depot with foreign, damaged, swapped and missing files: only true records come in, and the depot heals."""

from __future__ import annotations

import os
import shutil
from collections import Counter

import pytest

from fieldlog.errors import FieldlogError
from fieldlog.store.audit import audit
from fieldlog.store.lines import Change
from fieldlog.store.workspace import Workspace
from tests.exchange.laptops import Laptop
from tests.faults.failing_disk import HastyDisk
from tests.fuzz.cases import cases, say
from tests.fuzz.damage import PIECES, damaged_bytes


@pytest.fixture
def world(tmp_path):
    """A laptop with two sites, recordings and persons; its depot; and a new laptop that has nothing yet."""
    heron = Laptop(tmp_path / "heron")
    for number in range(3):
        for store in (heron.team, heron.site()):
            trace = store.traces.put(b"time_s,angle_deg,torque_nm\n" + b"0.01,10.5,%d\n" % number * 30)
            heron.write(store, f"n{number}", {"v": number, "trace": trace})
    heron.workspace.persons.put({"athlete_id": "p1", "name": "Zdenka Example"})
    heron.sync(tmp_path / "depot")
    heron.write(heron.site(), "n0", {"v": 100})
    heron.site().commit([Change("rig", "r1", {"v": 1})], by="heron")
    heron.sync(tmp_path / "depot")
    newcomer = Laptop(tmp_path / "newcomer")
    newcomer.workspace.close()
    yield heron, tmp_path / "depot", tmp_path / "newcomer"
    heron.workspace.close()


def bodies(workspace) -> dict[str, object]:
    return {
        r.id: (store.id, r.table, r.document, r.body)
        for store in workspace.stores()
        for r in store.revisions()
    }


def test_only_true_records_come_from_a_damaged_depot_and_it_heals(world, tmp_path):
    heron, depot, newcomer = world
    truth, tally = bodies(heron.workspace), Counter()
    place, stick = tmp_path / "case", tmp_path / "case" / "depot"
    for chance, where in cases("damaged depot", 12):
        shutil.copytree(depot, stick, symlinks=True)
        shutil.copytree(newcomer, place / "plover")
        for _ in range(chance.choice((1, 1, 2, 4))):
            damage(chance, stick)
        plover = Laptop(place / "plover")
        try:
            report = plover.sync(stick, with_traces=chance.random() < 0.5, verify=chance.random() < 0.3)
            tally["set aside" if any(done.set_aside for done in report.outcomes) else "taken in"] += 1
        except FieldlogError as error:
            assert str(error).isprintable(), where  # noqa: PT017 (both outcomes are right)
            tally["refused"] += 1
        got = bodies(plover.workspace)
        assert all(truth.get(identity) == body for identity, body in got.items()), where
        verdict = audit(plover.workspace)
        # A recording whose record has not arrived, or the other way round, is named; nothing taken in is damaged.
        assert {problem["kind"] for problem in verdict["problems"]} <= {
            "orphan_trace",
            "missing_trace",
            "missing",
        }, (
            where,
            verdict,
        )
        if chance.random() < 0.2:
            clear_the_way(stick)
            heron.sync(stick, verify=True)
            plover.sync(stick, verify=True)
            assert truth.items() <= bodies(plover.workspace).items(), where
            tally["healed"] += 1
        plover.workspace.close()
        shutil.rmtree(place)
    assert sum(tally.values())
    say("damaged depots", tally)


def damage(chance, stick):
    """Change one file of the depot, or put something there that does not belong."""
    files = sorted(path for path in stick.rglob("*") if path.is_file() and not path.is_symlink())
    file, other = chance.choice(files), chance.choice(files)
    kind = chance.randrange(11)
    if kind <= 3:
        file.write_bytes(damaged_bytes(chance, file.read_bytes()))
    elif kind == 4:
        file.unlink()
    elif kind == 5:
        shutil.copy(file, other) if file != other else None
    elif kind == 6:
        file.rename(
            file.with_name(chance.choice(("x", ".x", f"{'0' * 64}{file.suffix}", "é", file.name.upper())))
        )
    elif kind == 7:
        target = chance.choice((file.parent, stick, *(p for p in stick.iterdir() if p.is_dir())))
        (
            target / chance.choice(("notes.txt", "autorun.inf", "~$x", f"{'a' * 64}.jsonl", "store.json"))
        ).write_bytes(chance.choice(PIECES) * 3)
    elif kind == 8:
        file.unlink()
        chance.choice((file.mkdir, lambda: file.symlink_to("/etc/hostname"), lambda: os.mkfifo(file)))()
    elif kind == 9:
        folder = (
            stick
            / chance.choice(("f" * 24, "0" * 24, "Site X", ".trash"))
            / chance.choice(("sealed", "traces", "x"))
        )
        folder.mkdir(parents=True, exist_ok=True)
        (folder / chance.choice((file.name, "x.jsonl"))).write_bytes(damaged_bytes(chance, file.read_bytes()))
    else:
        lines = file.read_bytes().split(b"\n")
        chance.shuffle(lines)
        file.write_bytes(b"\n".join(lines))


def clear_the_way(stick):
    """Take away what stands where a file should be, as a person would after reading what was set aside."""
    for path in stick.glob("*/*/*"):
        if path.is_dir() and not path.is_symlink():
            path.rmdir()
        elif not path.is_file() or path.is_symlink():
            path.unlink()


def test_the_newcomer_gets_everything_from_the_sound_depot(world, tmp_path):
    heron, depot, newcomer = world
    with Workspace.open(newcomer, disk=HastyDisk()):
        pass
    plover = Laptop(newcomer)
    plover.sync(depot)
    assert bodies(heron.workspace).items() <= bodies(plover.workspace).items()
    plover.workspace.close()
