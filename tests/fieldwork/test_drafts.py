"""Drafts: kept beside the stores, never taken for a record, never in the way."""

import pytest

from fieldlog.fieldwork.drafts import Drafts
from fieldlog.store.workspace import Workspace


@pytest.fixture
def drafts(tmp_path):
    return Drafts(tmp_path)


def test_a_draft_is_there_again_under_its_name(drafts):
    assert drafts.load("check/a") is None
    drafts.save("check/a", {"readings": [1.5]})
    drafts.save("check/b", {"readings": []})
    assert drafts.load("check/a") == {"readings": [1.5]}
    drafts.drop("check/a")
    drafts.drop("check/a")
    assert drafts.load("check/a") is None
    assert drafts.load("check/b") == {"readings": []}


def test_a_name_may_hold_anything(drafts):
    name = "../../etc/passwd \ud800 \x00 " + "x" * 500
    drafts.save(name, {"a": 1})
    assert drafts.load(name) == {"a": 1}
    assert [path.parent for path in drafts.folder.iterdir()] == [drafts.folder]


@pytest.mark.parametrize(
    "damage", [b"", b"{", b"\xff\xfe", b"[]", b'{"draft": "other", "body": {}}', b'{"draft": "a"}']
)
def test_a_damaged_draft_is_no_draft(drafts, damage):
    drafts.save("a", {"kept": True})
    next(drafts.folder.iterdir()).write_bytes(damage)
    assert drafts.load("a") is None


def test_a_draft_cut_off_while_it_was_written_leaves_the_one_before(drafts):
    drafts.save("a", {"point": 1})
    path = next(drafts.folder.iterdir())
    path.with_suffix(".new").write_bytes(b'{"draft": "a", "bo')
    assert drafts.load("a") == {"point": 1}


def test_drafts_are_no_store_of_the_workspace(tmp_path):
    with Workspace.create(tmp_path / "w") as workspace:
        Drafts(workspace.path).save("a", {})
        assert workspace.site_folders() == []
