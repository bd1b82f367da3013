"""Recordings come back byte for byte or not at all."""

import gzip
import hashlib
import zlib

import pytest

from fieldlog.errors import InputError, NotFoundError, StoreError
from fieldlog.store.traces import check_trace, named_traces

CSV = b"\xef\xbb\xbfZeit;Winkel\r\n0,000;12,5\r\n" + bytes(range(256))


def test_a_recording_comes_back_byte_for_byte_under_the_hash_of_the_original(store):
    name = store.traces.put(CSV)
    assert name == hashlib.sha256(CSV).hexdigest()
    assert store.traces.get(name) == CSV
    assert store.traces.has(name)
    assert store.traces.names() == [name]
    assert gzip.decompress(store.traces.path(name).read_bytes()) == CSV


def test_the_same_recording_gives_the_same_file_and_is_kept_once(store):
    name = store.traces.put(CSV)
    first = store.traces.path(name).read_bytes()
    stamp = store.traces.path(name).stat().st_mtime_ns
    store.traces.put(CSV)
    assert store.traces.path(name).read_bytes() == first
    assert store.traces.path(name).stat().st_mtime_ns == stamp
    assert first[3:8] == bytes(5)


def test_no_flipped_bit_changes_a_recording_unnoticed(store):
    name = store.traces.put(CSV)
    packed = store.traces.path(name).read_bytes()
    passed = 0
    for position in range(8 * len(packed)):
        flipped = bytearray(packed)
        flipped[position // 8] ^= 1 << position % 8
        try:
            assert check_trace(name, bytes(flipped)) == CSV
            passed += 1
        except StoreError:
            continue
    assert passed < 8  # padding bits that stand for nothing


def test_a_damaged_recording_is_named_and_put_again_heals_it(store):
    name = store.traces.put(CSV)
    packed = store.traces.path(name).read_bytes()
    store.traces.path(name).write_bytes(packed[:40])
    assert [problem.kind for problem in store.traces.problems()] == ["damaged"]
    store.traces.put(CSV)
    assert store.traces.get(name) == CSV


def test_a_whole_recording_under_the_name_of_another_is_damage(store):
    name, other = store.traces.put(CSV), store.traces.put(CSV + b"one more line")
    store.traces.path(name).write_bytes(store.traces.path(other).read_bytes())
    with pytest.raises(StoreError, match="damaged"):
        store.traces.get(name)
    assert [problem.kind for problem in store.traces.problems()] == ["damaged"]


@pytest.mark.parametrize("extra", [b"\0", b"more"])
def test_bytes_after_the_end_of_a_recording_are_damage(store, extra):
    name = store.traces.put(CSV)
    with pytest.raises(StoreError):
        check_trace(name, store.traces.path(name).read_bytes() + extra)


def test_a_file_that_unpacks_to_a_giant_is_refused_without_unpacking_it(monkeypatch):
    monkeypatch.setattr("fieldlog.store.traces.MAX_TRACE_BYTES", 1000)
    giant = bytes(10_000_000)
    packed = zlib.compress(giant, wbits=31)
    with pytest.raises(StoreError, match="damaged"):
        check_trace(hashlib.sha256(giant).hexdigest(), packed)


def test_a_recording_too_large_to_keep_is_refused(store, monkeypatch):
    monkeypatch.setattr("fieldlog.store.traces.MAX_TRACE_BYTES", 1000)
    with pytest.raises(InputError, match="larger than"):
        store.traces.put(bytes(1001))


@pytest.mark.parametrize("name", ["", "../../store.json", "0" * 63, "G" * 64])
def test_no_name_leads_out_of_the_folder(store, name):
    with pytest.raises(NotFoundError):
        store.traces.get(name)


def test_a_recording_that_is_not_here_says_how_to_get_it(store):
    with pytest.raises(NotFoundError, match="not on this laptop") as caught:
        store.traces.get("0" * 64)
    assert "--with-traces" in caught.value.hint


def test_bodies_name_recordings_under_keys_that_end_in_trace():
    one, two, three = ("1" * 64, "2" * 64, "3" * 64)
    body = {
        "trace": one,
        "sets": [{"gravity_trace": two}, {"note": three, "trace": "short"}],
        "retrace": three,
    }
    assert named_traces(body) == {one, two}


def test_recordings_left_in_a_depot_are_remembered(store):
    store.traces.leave_elsewhere(["1" * 64])
    store.traces.leave_elsewhere(["2" * 64])
    assert store.traces.elsewhere() == {"1" * 64, "2" * 64}
