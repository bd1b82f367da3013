"""The line format: exact bytes, exact ids, nothing unreadable, no damage unnoticed."""

import datetime as dt
import hashlib
import zlib

import orjson
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.errors import InputError
from fieldlog.store.lines import (
    Header,
    LineError,
    body_bytes,
    canonical,
    frame,
    read_commit,
    read_line,
    unframe,
    write_commit,
)

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12) | st.sampled_from(
    ['a","b', "\\", '\\"', '"],["', "é\n\t", "]]", ',{"x":1}', "\x7f"]
)
JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=8,
)
BODY = st.none() | st.dictionaries(TEXT, JSON, max_size=4)
CHANGE = st.tuples(TEXT, TEXT, st.lists(TEXT, max_size=2).map(tuple), BODY)


def commit(changes, **of):
    settled = {"clock": 7 << 16, "device": "kestrel", "by": "ann", "why": "", **of}
    raw = [(t, d, p, None if b is None else body_bytes(b)) for t, d, p, b in changes]
    return write_commit(raw, **settled)


@settings(max_examples=300)
@given(st.lists(CHANGE, min_size=1, max_size=3), TEXT, TEXT, TEXT, st.integers(0, 2**62))
def test_what_is_written_is_read_back_in_every_degree_of_doubt(changes, device, by, why, clock):
    line, revisions = commit(changes, device=device, by=by, why=why, clock=clock)
    for check in ("all", "checksum", "nothing"):
        assert read_line(line[:-1], {}, check) == revisions
    assert [revision.body for revision in revisions] == [body for *_, body in changes]


def test_a_line_is_checksum_space_array_and_line_end():
    line, (revision,) = commit([("rig", "r1", (), {"mass_kg": 4.5})])
    checksum, _, payload = line.partition(b" ")
    assert payload.endswith(b"\n")
    assert int(checksum, 16) == zlib.crc32(payload[:-1])
    entry = orjson.loads(payload)[0]
    assert entry == [revision.id, "rig", "r1", [], 7 << 16, "kestrel", "ann", "", {"mass_kg": 4.5}]


def test_an_id_is_the_hash_of_the_exact_bytes_after_it():
    line, (revision,) = commit([("rig", "r1", (), {"mass_kg": 4.50})])
    exact = line.split(revision.id.encode() + b'",')[1].removesuffix(b"]]\n")
    assert revision.id == hashlib.sha256(exact).hexdigest()


def test_one_commit_gives_each_of_its_changes_a_stamp_of_its_own():
    _, revisions = commit([("rig", "a", (), {}), ("rig", "b", (), {})])
    assert revisions[1].clock == revisions[0].clock + 1


def test_every_flipped_bit_of_a_line_is_noticed():
    line, _ = commit([("rig", "r1", (), {"note": "level", "mass_kg": 4.5}), ("rig", "r2", (), None)])
    for position in range(8 * (len(line) - 1)):
        flipped = bytearray(line[:-1])
        flipped[position // 8] ^= 1 << position % 8
        with pytest.raises(LineError):
            read_line(bytes(flipped), {}, "checksum")


@pytest.mark.parametrize("parents", [(), ("0" * 64,)])
def test_a_checksum_that_fits_does_not_excuse_an_id_that_does_not(parents):
    line, _ = commit([("rig", "r1", parents, {"mass_kg": 4.5})])
    forged = frame(unframe(line[:-1]).replace(b"4.5", b"9.5"))
    with pytest.raises(LineError, match="does not match its id"):
        read_line(forged[:-1], {})


@pytest.mark.parametrize(
    "payload",
    [
        b"[1]",
        b"[[]]",
        b'[["x"]]',
        b"[[null]]",
        b"[" * 3000,
        b'[["a","b","c",[],1,"d","e","f",{}]]',
        b'[["%b","t","d",[],1,"d","e","f",{"x":}]]' % (b"0" * 64),
    ],
)
def test_what_is_no_commit_is_refused(payload):
    with pytest.raises(LineError):
        read_line(frame(payload)[:-1], {})


def with_right_id(rest):
    return frame(b'[["%b",%b]]' % (hashlib.sha256(rest).hexdigest().encode(), rest))[:-1]


@pytest.mark.parametrize(
    "rest",
    [
        b'"t","d",[],-1,"d","e","f",{}',
        b'"t","d",[],1.5,"d","e","f",{}',
        b'"t","d",[],9223372036854775808,"d","e","f",{}',
        b'"t","d",[],1_0,"d","e","f",{}',
        b'"t","d",[7],1,"d","e","f",{}',
        b'"t",7,[],1,"d","e","f",{}',
        b'"t","d",[],1,"d","e","f",[]',
        b'"t","d",[],1,"d","e","f",{"a":1}}',
        b'"t","d",[],1,"d","e","f",{"a":nan}',
        b'"t","d",[],1,"\xff","e","f",{}',
    ],
)
def test_right_ids_do_not_excuse_wrong_types(rest):
    with pytest.raises(LineError):
        read_line(with_right_id(rest), {})


def test_a_body_written_with_other_escapes_keeps_its_id_and_reads_the_same():
    rest = b'"t","d",[],1,"k","\\u00e9","",{"a":1}'
    (revision,) = read_line(with_right_id(rest), {})
    assert (revision.by, revision.body) == ("é", {"a": 1})


def test_lines_about_the_file_hold_no_revision():
    header = Header(1, "site-1", "kestrel", ("ab",), 5)
    line = header.line()
    assert read_line(line[:-1], {}) == []
    assert Header.read(unframe(line[:-1])) == header


@pytest.mark.parametrize(
    "body",
    [
        {"a": float("nan")},
        {"a": [1.0, float("inf")]},
        {"a": {"b": float("-inf")}, "c": None},
        {"a": 2**70},
        {"a": "\ud800"},
        {"a": {1, 2}},
        {"a": dt.date(2031, 1, 1)},
        {1: "a"},
    ],
)
def test_a_body_that_json_cannot_say_is_refused(body):
    with pytest.raises(InputError):
        body_bytes(body)


def test_a_null_in_a_body_is_fine():
    assert body_bytes({"a": None, "b": 1.5}) == b'{"a":null,"b":1.5}'


def test_bodies_are_equal_whatever_the_order_of_their_keys_but_not_whatever_their_types():
    assert canonical(b'{"a":1,"b":{"d":2,"c":3}}') == canonical(b'{"b":{"c":3,"d":2},"a":1}')
    assert canonical(b'{"a":1}') != canonical(b'{"a":true}')
    assert canonical(None) is None


def test_a_body_handed_out_is_the_callers_own():
    _, (revision,) = commit([("rig", "r1", (), {"list": [1]})])
    revision.body["list"].append(2)
    assert revision.body == {"list": [1]}


def test_a_line_whose_entries_are_no_revisions_is_no_commit():
    for payload in (b"[[1],[null]]", b"[[1],[[]]]", b"[5,6]", b'["a","b"]', b"[{}]"):
        with pytest.raises(LineError):
            read_commit(payload)
