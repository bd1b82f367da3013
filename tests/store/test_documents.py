"""Heads, conflicts, order and indexes follow from the set of revisions, however it arrives."""

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.store.documents import Documents
from fieldlog.store.lines import body_bytes, write_commit

HORIZON = 1 << 62


def revision(document, body, parents=(), clock=1, by="ann"):
    raw = None if body is None else body_bytes(body)
    _, (made,) = write_commit(
        [("rig", document, tuple(parents), raw)], clock=clock, device="k", by=by, why=""
    )
    return made


def taken(revisions):
    documents = Documents()
    documents.horizon = HORIZON
    for one in revisions:
        documents.add(one)
    return documents


@st.composite
def histories(draw):
    """Revisions of two documents, each after any earlier ones of the same document."""
    made = []
    for clock in range(draw(st.integers(1, 9))):
        document = draw(st.sampled_from(["a", "b"]))
        earlier = [one.id for one in made if one.document == document]
        parents = draw(st.lists(st.sampled_from(earlier), max_size=2, unique=True)) if earlier else []
        body = draw(st.none() | st.fixed_dictionaries({"v": st.integers(0, 2)}))
        made.append(
            revision(document, body, parents, clock=draw(st.integers(clock, clock + 3)), by=str(clock))
        )
    return made


@settings(max_examples=150)
@given(histories(), st.randoms(use_true_random=False))
def test_heads_are_the_revisions_nobody_names_in_any_order_of_arrival(made, chance):
    shuffled = made + made[:2]
    chance.shuffle(shuffled)
    documents = taken(shuffled)
    for name in {one.document for one in made}:
        own = [one for one in made if one.document == name]
        named = {parent for one in own for parent in one.parents}
        strand = documents.strand("rig", name)
        assert {head.id for head in strand.raw_heads()} == {one.id for one in own} - named
        assert strand.shown() == taken(made).strand("rig", name).shown()
        history = [one.id for one in strand.history()]
        assert sorted(history) == sorted(one.id for one in own)
        for one in own:
            assert all(history.index(parent) < history.index(one.id) for parent in one.parents)


@settings(max_examples=100)
@given(histories(), st.integers(0, 9))
def test_an_index_made_early_answers_as_a_scan_does(made, early):
    documents = taken(made[:early])
    documents.equal("rig", ("v",), 0)
    for one in made[early:]:
        documents.add(one)
    for value in (0, 1, 2, None, "0"):
        scanned = [one for one in documents.all_shown("rig") if "v" in one.body and one.body["v"] == value]
        assert documents.equal("rig", ("v",), value) == scanned


def test_an_edit_is_shown_over_a_deletion_then_the_later_clock_then_the_id():
    start = revision("a", {"v": 0})
    deletion = revision("a", None, [start.id], clock=9)
    early = revision("a", {"v": 1}, [start.id], clock=2)
    late = revision("a", {"v": 2}, [start.id], clock=3)
    heads = taken([start, deletion, early, late]).strand("rig", "a").heads()
    assert heads == [late, early, deletion]


def test_heads_with_equal_bodies_count_as_one():
    documents = taken([revision("a", {"x": 1, "y": 2}, by="ann"), revision("a", {"y": 2, "x": 1}, by="bea")])
    assert len(documents.strand("rig", "a").raw_heads()) == 2
    assert len(documents.strand("rig", "a").heads()) == 1
    assert list(documents.conflicts()) == []


def test_a_revision_cannot_supersede_another_documents():
    one = revision("a", {"v": 1})
    other = revision("b", {"v": 2}, [one.id])
    documents = taken([other, one])
    assert documents.shown("rig", "a") == one
    assert documents.shown("rig", "b") == other


def test_documents_stand_in_the_order_of_their_first_revisions():
    made = [revision(str(number), {"v": number}, clock=number + 1) for number in range(20)]
    made.append(revision("0", {"v": 99}, [made[0].id], clock=50))
    random.Random(4).shuffle(made)
    assert [one.document for one in taken(made).all_shown("rig")] == [str(number) for number in range(20)]


def test_a_stamp_from_the_far_future_does_not_move_the_newest():
    documents = Documents()
    documents.horizon = 100
    documents.add(revision("a", {}, clock=50))
    documents.add(revision("b", {}, clock=5000))
    assert documents.newest == 50
    assert [one.document for one in documents.all_shown("rig")] == ["a", "b"]
