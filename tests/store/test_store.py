"""What a store promises: durable before visible, whole or not at all, never overwritten."""

import threading

import orjson
import pytest

from fieldlog.errors import InputError, NewerSchemaError, RefusedError, SaveError, StoreError
from fieldlog.store.lines import Change, Header, frame
from fieldlog.store.store import Store

DAY_MS = 24 * 3600 * 1000


def bodies(store, table="rig"):
    return {revision.document: revision.body for revision in store.documents(table)}


def test_what_was_saved_is_there_after_opening_again(store, again, save):
    saved = save(store, "r1", {"name": "Blue"}, why="first visit")
    found = again().shown("rig", "r1")
    assert found == saved
    assert (found.body, found.by, found.why, found.device) == (
        {"name": "Blue"},
        "ann",
        "first visit",
        "kestrel",
    )


def test_one_commit_of_several_records_is_one_line(store):
    store.commit([Change("rig", "r1", {"a": 1}), Change("check", "c1", {"b": 2})], by="ann")
    lines = (store.path / "active.jsonl").read_bytes().splitlines()
    assert len(lines) == 2
    assert bodies(store) == {"r1": {"a": 1}}
    assert bodies(store, "check") == {"c1": {"b": 2}}


def test_committing_nothing_writes_nothing(store):
    assert store.commit([], by="ann") == []
    assert not (store.path / "active.jsonl").exists()


def test_two_open_stores_see_each_others_changes(store, again, save):
    other = again("heron")
    save(store, "r1", {"v": 1})
    assert other.shown("rig", "r1") is None
    save(other, "r2", {"v": 2})
    assert set(bodies(other)) == {"r1", "r2"}
    store.refresh()
    assert set(bodies(store)) == {"r1", "r2"}


def test_a_read_and_the_commit_that_follows_are_one_step(store, again):
    start = store.commit([Change("count", "n", {"v": 0})], by="ann")[0]
    stores = [store, again(), again()]

    def count(mine):
        for _ in range(20):
            with mine.writing():
                seen = mine.shown("count", "n")
                mine.commit([Change("count", "n", {"v": seen.body["v"] + 1}, (seen.id,))], by="ann")

    threads = [threading.Thread(target=count, args=(mine,)) for mine in stores for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    store.refresh()
    assert store.shown("count", "n").body == {"v": 120}
    assert len(store.heads("count", "n")) == 1
    assert store.history("count", "n")[0] == start


def test_saving_after_an_older_revision_overwrites_nothing_and_is_a_conflict(store, save):
    first = save(store, "r1", {"arm_m": 0.30})
    newer = save(store, "r1", {"arm_m": 0.31}, parents=[first.id])
    late = save(store, "r1", {"arm_m": 0.32}, parents=[first.id], by="bea")
    (conflict,) = store.conflicts()
    assert (conflict.table, conflict.document, set(conflict.heads)) == ("rig", "r1", {newer, late})
    assert store.shown("rig", "r1") == late
    save(store, "r1", {"arm_m": 0.31}, parents=[newer.id, late.id], why="measured again")
    assert store.conflicts() == []
    assert len(store.history("rig", "r1")) == 4


def test_naming_one_of_two_equal_heads_takes_its_twin_along(store, save):
    one = save(store, "r1", {"v": 1}, parents=[])
    twin = save(store, "r1", {"v": 1}, parents=[], by="bea")
    other = save(store, "r1", {"v": 2}, parents=[])
    settled = save(store, "r1", {"v": 3}, parents=[one.id, other.id])
    assert twin.id in settled.parents
    assert store.heads("rig", "r1") == [settled]


def test_a_deletion_hides_the_record_and_keeps_its_history(store, save):
    first = save(store, "r1", {"v": 1})
    deletion = save(store, "r1", None)
    assert bodies(store) == {}
    assert store.shown("rig", "r1") == deletion
    assert deletion.deleted
    assert store.history("rig", "r1") == [first, deletion]


def test_undo_goes_back_one_step_at_a_time(store, save):
    for value in (1, 2, 3):
        save(store, "r1", {"v": value})
    steps = [store.undo("rig", "r1", by="bea").body for _ in range(3)]
    assert steps == [{"v": 2}, {"v": 1}, None]
    assert len(store.history("rig", "r1")) == 6
    assert store.undo("rig", "r1", by="bea").body == {"v": 1}


def test_undo_restores_a_deletion(store, save):
    save(store, "r1", {"v": 1})
    save(store, "r1", None)
    assert store.undo("rig", "r1", by="ann").body == {"v": 1}


def test_undo_after_undo_and_a_new_edit_takes_the_new_edit_back(store, save):
    save(store, "r1", {"v": 1})
    save(store, "r1", {"v": 2})
    store.undo("rig", "r1", by="ann")
    save(store, "r1", {"v": 3})
    assert store.undo("rig", "r1", by="ann").body == {"v": 1}


def test_undo_keeps_the_exact_body(store, save):
    save(store, "r1", {"z": 1, "a": 2})
    save(store, "r1", {"z": 2})
    assert store.undo("rig", "r1", by="ann").raw == b'{"z":1,"a":2}'


def test_there_is_nothing_to_undo_in_an_unknown_record(store):
    with pytest.raises(RefusedError, match="nothing to undo"):
        store.undo("rig", "r1", by="ann")


@pytest.mark.parametrize(
    "changes",
    [
        [Change("", "r1", {})],
        [Change("rig", "", {})],
        [Change("rig", "x" * 201, {})],
        [Change("rig", "r1", {"a": float("nan")})],
        [Change("rig", "r1", {}, ("0" * 64,))],
        [Change("rig", "r1", {}), Change("rig", "r1", {"a": 1})],
    ],
)
def test_a_malformed_change_is_refused_whole(store, again, save, changes):
    save(store, "r0", {"v": 1})
    before = (store.path / "active.jsonl").read_bytes()
    with pytest.raises(InputError):
        store.commit([Change("rig", "fine", {}), *changes], by="ann")
    assert (store.path / "active.jsonl").read_bytes() == before
    assert bodies(store) == bodies(again()) == {"r0": {"v": 1}}


def test_a_parent_of_another_record_is_refused(store, save):
    other = save(store, "r1", {"v": 1})
    with pytest.raises(InputError, match="no revision of this record"):
        save(store, "r2", {"v": 1}, parents=[other.id])


def test_half_a_character_in_a_name_or_reason_is_refused(store):
    for texts in ({"by": "an\udce9"}, {"by": "ann", "why": "\ud800"}):
        with pytest.raises(InputError, match="cannot be written as text"):
            store.commit([Change("rig", "r1", {})], **texts)


def test_a_giant_record_or_name_is_refused(store):
    with pytest.raises(InputError, match="MiB"):
        store.commit([Change("rig", "r1", {"a": "x" * (33 << 20)})], by="ann")
    with pytest.raises(InputError, match="200 characters"):
        store.commit([Change("rig", "r1", {})], by="x" * 201)


def test_sealing_moves_the_lines_under_the_hash_of_their_bytes(store, again, save):
    assert store.seal() is None
    save(store, "r1", {"v": 1})
    sealed = store.seal()
    assert sealed.parent.name == "sealed"
    assert store.seal() is None
    save(store, "r2", {"v": 2})
    second = store.seal()
    header = orjson.loads(second.read_bytes().split(b"\n")[0][9:])
    assert header["previous"] == [sealed.stem]
    for opened in (store, again(), again()):
        assert set(bodies(opened)) == {"r1", "r2"}
        assert opened.problems() == []
        assert opened.sealed_names() == sorted([sealed.name, second.name])


def test_another_process_that_seals_in_between_is_followed(store, again, save):
    other = again()
    save(store, "r1", {"v": 1})
    save(other, "r2", {"v": 2})
    store.seal()
    save(store, "r3", {"v": 3})
    save(other, "r4", {"v": 4})
    store.refresh()
    assert set(bodies(store)) == set(bodies(other)) == {"r1", "r2", "r3", "r4"}
    assert other.problems() == []


def test_sealed_files_from_elsewhere_are_taken_in_once(tmp_path, store, save, wall):
    with Store.create(tmp_path / "b", store_id="site-1", kind="site", device="heron", now_ms=wall) as other:
        save(other, "r1", {"v": 1})
        sealed = other.seal()
    data = sealed.read_bytes()
    assert [revision.document for revision in store.receive(sealed.name, data)] == ["r1"]
    assert store.receive(sealed.name, data) == []
    assert bodies(store) == {"r1": {"v": 1}}


def test_a_sealed_file_put_into_the_folder_is_found_by_refresh(tmp_path, store, save, wall):
    with Store.create(tmp_path / "b", store_id="site-1", kind="site", device="heron", now_ms=wall) as other:
        save(other, "r1", {"v": 1})
        sealed = other.seal()
    (store.path / "sealed").mkdir()
    copy = store.path / "sealed" / sealed.name
    copy.write_bytes(sealed.read_bytes()[:100])
    store.refresh()
    assert [problem.kind for problem in store.problems()] == ["damaged"]
    copy.write_bytes(sealed.read_bytes())
    store.refresh()
    assert bodies(store) == {"r1": {"v": 1}}
    assert store.problems() == []


def test_hostile_sealed_files_are_refused_and_not_kept(tmp_path, store, save, wall):
    with Store.create(tmp_path / "b", store_id="site-2", kind="site", device="heron", now_ms=wall) as other:
        save(other, "r1", {"v": 1})
        foreign = other.seal()
    data = foreign.read_bytes()
    import hashlib

    def named(content):
        return hashlib.sha256(content).hexdigest() + ".jsonl"

    header = Header(1, "site-1", "heron", (), 5).line()
    attempts = {
        foreign.name: data,
        foreign.name[::-1].removeprefix("lnosj.") + ".jsonl": header + frame(b'{"about":"the file"}'),
        "../../evil.jsonl": data,
        "0" * 64 + ".jsonl": data,
        named(b""): b"",
        named(b"\n"): b"\n",
        named(header + b"no line\n"): header + b"no line\n",
        named(header[:-1]): header[:-1],
        named(header + frame(b'[["x"]]')): header + frame(b'[["x"]]'),
    }
    for name, content in attempts.items():
        with pytest.raises(InputError):
            store.receive(name, content)
    assert store.sealed_names() == []
    assert bodies(store) == {}


def test_a_file_of_a_newer_fieldlog_is_kept_and_passed_on_but_not_read(store, again):
    import hashlib

    data = Header(2, "site-1", "heron", (), 5).line() + b"anything\n"
    name = hashlib.sha256(data).hexdigest() + ".jsonl"
    assert store.receive(name, data) == []
    opened = again()
    assert opened.problems() == []
    assert "newer fieldlog" in opened.notes()[0]
    assert (opened.path / "sealed" / name).read_bytes() == data


def test_a_store_of_a_newer_fieldlog_is_not_opened(store):
    (store.path / "store.json").write_text('{"format":2,"id":"site-1","kind":"site"}')
    with pytest.raises(NewerSchemaError):
        Store(store.path, device="kestrel")


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", '{"format":1,"id":7,"kind":"site"}', '{"format":1,"id":"a","kind":"x"}']
)
def test_a_damaged_store_file_is_said_to_be_damaged(store, text):
    (store.path / "store.json").write_text(text)
    with pytest.raises(StoreError, match=r"store\.json is damaged"):
        Store(store.path, device="kestrel")


def test_a_folder_that_is_no_store_is_said_to_be_none(tmp_path):
    with pytest.raises(InputError, match="is no store"):
        Store(tmp_path, device="kestrel")


def test_a_torn_tail_is_named_then_set_aside_by_the_next_writer(store, again, save):
    save(store, "r1", {"v": 1})
    active = store.path / "active.jsonl"
    whole = active.read_bytes()
    active.write_bytes(whole + b'1234abcd [["half')
    reader = again()
    assert [problem.kind for problem in reader.problems()] == ["torn"]
    assert active.read_bytes().endswith(b"half")
    save(reader, "r2", {"v": 2})
    assert reader.problems() == []
    assert active.read_bytes().startswith(whole)
    assert b"half" not in active.read_bytes()
    (kept,) = (store.path / "aside").iterdir()
    assert kept.read_bytes() == b'1234abcd [["half'
    assert bodies(again()) == {"r1": {"v": 1}, "r2": {"v": 2}}


def test_a_damaged_line_is_named_and_later_lines_stay_readable(store, again, save):
    for number in range(3):
        save(store, f"r{number}", {"v": number})
    active = store.path / "active.jsonl"
    active.write_bytes(active.read_bytes().replace(b'{"v":1}', b'{"v":7}'))
    opened = again()
    (problem,) = opened.problems()
    assert (problem.kind, problem.file) == ("damaged", "active.jsonl")
    assert set(bodies(opened)) == {"r0", "r2"}
    save(opened, "r3", {"v": 3})
    assert set(bodies(again())) == {"r0", "r2", "r3"}


def test_sealing_leaves_damaged_lines_out_and_keeps_them_aside(store, again, save):
    for number in range(3):
        save(store, f"r{number}", {"v": number})
    active = store.path / "active.jsonl"
    damaged = active.read_bytes().replace(b'{"v":1}', b'{"v":7}')
    active.write_bytes(damaged)
    opened = again()
    opened.seal()
    assert again().problems() == []
    assert set(bodies(again())) == {"r0", "r2"}
    (kept,) = (store.path / "aside").iterdir()
    assert kept.name.startswith("damaged-")
    assert kept.read_bytes() == damaged


def test_a_damaged_sealed_file_gives_what_is_whole_in_it_and_is_named(store, again, save):
    for number in range(3):
        save(store, f"r{number}", {"v": number})
    sealed = store.seal()
    sealed.write_bytes(sealed.read_bytes().replace(b'{"v":1}', b'{"v":7}'))
    opened = again()
    (problem,) = opened.problems()
    assert (problem.kind, problem.file) == ("damaged", f"sealed/{sealed.name}")
    assert set(bodies(opened)) == {"r0", "r2"}


def test_a_sealed_file_that_is_checked_already_is_still_held_against_its_name(store, again, save):
    save(store, "r1", {"v": 1})
    sealed = store.seal()
    again()
    assert sealed.name in (store.path / "sealed" / ".checked").read_text()
    line = sealed.read_bytes().splitlines(keepends=True)[-1]
    sealed.write_bytes(sealed.read_bytes().replace(line, b"0" + line[1:]))
    assert [problem.kind for problem in again().problems()] == ["damaged"]


def test_a_sealed_file_named_by_a_later_one_but_not_here_is_missing(store, again, save):
    save(store, "r1", {"v": 1})
    first = store.seal()
    save(store, "r2", {"v": 2})
    store.seal()
    first.unlink()
    (problem,) = again().problems()
    assert (problem.kind, problem.file) == ("missing", f"sealed/{first.name}")


def test_an_active_file_of_another_store_is_foreign_and_not_written_to(tmp_path, store, again, save, wall):
    with Store.create(tmp_path / "b", store_id="site-2", kind="site", device="kestrel", now_ms=wall) as other:
        save(other, "r1", {"v": 1})
        (store.path / "active.jsonl").write_bytes((other.path / "active.jsonl").read_bytes())
    opened = again()
    assert [problem.kind for problem in opened.problems()] == ["foreign"]
    assert bodies(opened) == {}
    with pytest.raises(SaveError, match="another store"):
        save(opened, "r2", {"v": 2})


def test_a_file_shortened_from_outside_is_noticed(store, save):
    save(store, "r1", {"v": 1})
    save(store, "r2", {"v": 2})
    active = store.path / "active.jsonl"
    active.write_bytes(active.read_bytes()[:-20])
    with pytest.raises(StoreError, match="shorter than it was"):
        save(store, "r3", {"v": 3})


def test_a_clock_years_ahead_orders_display_only_and_poisons_nobody(tmp_path, store, save, wall):
    year = 366 * DAY_MS
    with Store.create(
        tmp_path / "b", store_id="site-1", kind="site", device="heron", now_ms=lambda: wall() + 5 * year
    ) as wrong:
        ahead = save(wrong, "r1", {"v": "future"})
        sealed = wrong.seal()
    store.receive(sealed.name, sealed.read_bytes())
    edit = save(store, "r1", {"v": "now"})
    assert edit.clock < ahead.clock
    assert store.shown("rig", "r1") == edit
    assert store.heads("rig", "r1") == [edit]


def test_a_clock_set_back_still_writes_later_stamps_than_before(store, again, save, wall):
    first = save(store, "r1", {"v": 1})
    wall.now_ms -= 300 * DAY_MS
    opened = again()
    assert save(opened, "r2", {"v": 2}).clock != first.clock
    assert opened.history("rig", "r1") == [first]
    wall.now_ms += 300 * DAY_MS - 5000
    assert save(again(), "r3", {"v": 3}).clock > first.clock


def test_a_store_on_a_disk_that_cannot_be_written_is_read_and_says_so_once(store, save, wall):
    from tests.faults.failing_disk import ReadOnlyDisk

    save(store, "r1", {"v": 1})
    with Store(store.path, device="heron", disk=ReadOnlyDisk(), now_ms=wall) as reader:
        assert bodies(reader) == {"r1": {"v": 1}}
        with pytest.raises(SaveError, match="read-only"):
            save(reader, "r2", {"v": 2})
        assert bodies(reader) == {"r1": {"v": 1}}


def test_a_lock_that_stays_taken_is_said_to_be_taken(store, again, save, monkeypatch):
    monkeypatch.setattr("fieldlog.store.journal.LOCK_TIMEOUT_S", 0.02)
    other = again()
    with store.writing(), pytest.raises(SaveError, match="locked by another fieldlog"):
        save(other, "r1", {"v": 1})
    save(other, "r1", {"v": 1})
