"""Damaged team and site stores: what is shown is true, what is not is named, and no command ends in a traceback."""

from __future__ import annotations

import shutil
from collections import Counter

import orjson
import pytest

from fieldlog.errors import FieldlogError
from fieldlog.store.audit import audit
from fieldlog.store.lines import Change, frame
from fieldlog.store.workspace import Workspace
from tests.conftest import SAMPLE
from tests.faults.failing_disk import HastyDisk
from tests.fuzz.cases import LONG, cases, run, say
from tests.fuzz.damage import damaged_bytes, damaged_json


@pytest.fixture
def pristine(tmp_path):
    """A small workspace: two stores, sealed and unsealed lines, a change with parents, a recording, a person."""
    path = tmp_path / "pristine"
    with Workspace.create(path, disk=HastyDisk()) as workspace:
        site = workspace.adopt_site("aaaaaaaaaaaa", "Mill")
        trace = site.traces.put(b"time_s,angle_deg,torque_nm\n" + b"0.01,10.5,5.25\n" * 40)
        for number in range(6):
            changes = [
                Change("set", f"s{number}.{i}", {"v": number, "trace": trace}) for i in range(1 + number % 2)
            ]
            site.commit(changes, by="ann", why='läuft "so"')
            if number % 3 == 2:
                site.seal()
        shown = site.shown("set", "s1.0")
        site.commit([Change("set", "s1.0", {"v": 100}, (shown.id,))], by="bea", why="mend")
        workspace.persons.put({"athlete_id": "p1", "name": "Zdenka Example"})
        workspace.team.commit([Change("rig", "r1", {"v": 1})], by="ann")
    return path


def bodies(stores):
    return {r.id: (r.table, r.document, r.body) for store in stores for r in store.revisions()}


def test_a_damaged_store_shows_only_what_is_true_and_names_the_rest(tmp_path, pristine):
    with Workspace.open(pristine, disk=HastyDisk()) as workspace:
        truth = bodies(workspace.stores())
    files = sorted(
        path for path in pristine.rglob("*") if path.is_file() and path.name not in {"lock", ".checked"}
    )
    copy, tally = tmp_path / "copy", Counter()
    for chance, case in cases("damaged store", 40):
        shutil.copytree(pristine, copy)
        file = copy / chance.choice(files).relative_to(pristine)
        where = f"{case}, {file.name}"
        damage(chance, file)
        try:
            with Workspace.open(copy, disk=HastyDisk()) as workspace:
                verdict = audit(workspace)
                shown = bodies(workspace.sites.values())
                if (copy / "team" / "store.json").exists():
                    shown |= readable(workspace)
                wrong = {identity: body for identity, body in shown.items() if truth.get(identity) != body}
                assert not wrong, (where, wrong)
                lost = truth.keys() - shown.keys()
                # Lines cut off at the end of the active file were never acknowledged as far as it can tell.
                assert not verdict["ok"] or not lost or file.name == "active.jsonl", (where, verdict)
                tally["whole" if verdict["ok"] else "named"] += 1
        except FieldlogError as error:
            assert str(error).isprintable(), where  # noqa: PT017 (both outcomes are right)
            tally["refused"] += 1
        shutil.rmtree(copy)
    assert tally["named"]
    say("damaged stores", tally)


def readable(workspace):
    try:
        return bodies([workspace.team])
    except FieldlogError:
        return {}


def damage(chance, file):
    """Damage bytes, order or content of a file; half of the changed lines bear a checksum that fits."""
    data = file.read_bytes()
    lines = data.split(b"\n")
    kind = chance.randrange(8)
    if kind == 0 or not data:
        file.write_bytes(damaged_bytes(chance, data))
    elif kind == 1:
        file.unlink()
    elif kind == 2:
        other = chance.choice(sorted(path for path in file.parent.parent.rglob("*") if path.is_file()))
        file.write_bytes(other.read_bytes())
    elif kind == 3:
        at = chance.randrange(len(lines))
        lines[at : at + 1] = chance.choice(
            ([], [lines[at]] * 2, [lines[at][::-1]], [lines[at][: len(lines[at]) // 2]])
        )
        file.write_bytes(b"\n".join(lines))
    elif kind == 4:
        chance.shuffle(lines)
        file.write_bytes(b"\n".join(lines))
    elif file.suffix == ".json":
        file.write_bytes(damaged_json(chance, orjson.loads(data)).encode("utf-8", "surrogatepass"))
    else:
        at = chance.randrange(len(lines))
        payload = lines[at][9:]
        try:
            changed = damaged_json(chance, orjson.loads(payload)).encode("utf-8", "surrogatepass")
        except ValueError:
            changed = damaged_bytes(chance, payload)
        lines[at] = frame(changed)[:-1] if chance.random() < 0.8 else lines[at][:9] + changed
        file.write_bytes(b"\n".join(lines))


COMMANDS = (
    ("audit",), ("conflicts",), ("history", "--rig", "rig A"), ("export", "--as", "csv", "-o", "out"), ("export", "--as", "json", "-o", "out"),
    ("show", "places"), ("show", "squad"), ("show", "exchange"), ("show", "rig-log", "--rig", "rig A"),
    ("show", "day", "--site", "Skarvik boathouse"), ("show", "bench", "--site", "Skarvik boathouse"),
    ("sheet", "coach", "--site", "Skarvik boathouse", "-o", "x.pdf"), ("sheet", "rig", "--site", "Skarvik boathouse", "-o", "x.pdf"),
    ("sheet", "visit", "--site", "Skarvik boathouse", "-o", "x.pdf"),
    ("sheet", "athlete", "--site", "Skarvik boathouse", "--athlete", "R03", "-o", "x.pdf"),
)  # fmt: skip


def test_a_record_of_any_shape_ends_no_command_in_a_traceback(tmp_path, monkeypatch):
    """As a newer, older or foreign program might have written it: the line is sound, the body is not."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FIELDLOG_TODAY", "2026-05-06")
    tally = Counter()
    for chance, where in cases("record of any shape", 3, many=1_000):
        shutil.copytree(SAMPLE, "copy", ignore=shutil.ignore_patterns("recordings"))
        with Workspace.open(tmp_path / "copy", disk=HastyDisk()) as workspace:
            store = chance.choice(workspace.stores())
            table = chance.choice(sorted(store.tables()))
            shown = chance.choice(sorted(store.documents(table), key=lambda revision: revision.document))
            try:
                body = orjson.loads(damaged_json(chance, shown.body))
            except ValueError:  # NaN, or half a character: no JSON a line can hold
                body = {}
            store.commit(
                [Change(table, shown.document, body if isinstance(body, dict) else {}, (shown.id,))], by="x"
            )
        for words in chance.sample(COMMANDS, 3 if LONG else 1):
            status, out, err = run("--workspace", "copy", *words)
            tally[f"status {status}"] += 1
            assert status in {0, 1, 2}, (where, table, words)
            assert (out == "" and err.count("\n") == 1) if status == 2 else err == "", (
                where,
                table,
                words,
                err,
            )
        shutil.rmtree("copy")
    say("records of any shape", tally)


def test_a_damaged_format_number_is_damage_and_no_newer_fieldlog(pristine):
    with Workspace.open(pristine, disk=HastyDisk()) as workspace:
        truth = bodies(workspace.stores())
    file = next(pristine.glob("mill-*/sealed/*.jsonl"))
    header, _, rest = file.read_bytes().partition(b"\n")
    file.write_bytes(frame(orjson.dumps({**orjson.loads(header[9:]), "format": 9})) + rest)
    with Workspace.open(pristine, disk=HastyDisk()) as workspace:
        assert [problem["kind"] for problem in audit(workspace)["problems"]] == ["damaged"]
        assert bodies(workspace.stores()) == truth
