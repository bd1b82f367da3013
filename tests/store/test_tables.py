"""The store as a TinyDB: side by side with the stock class, and what ours does better."""

import copy

import pytest
import tinydb
from hypothesis import given, settings
from hypothesis import strategies as st
from tinydb import Query, TinyDB, where
from tinydb.operations import add, decrement, delete, increment
from tinydb.operations import set as set_field
from tinydb.storages import MemoryStorage
from tinydb.table import Document

from fieldlog.errors import InputError
from fieldlog.store.store import Store
from tests.faults.failing_disk import HastyDisk


@pytest.fixture
def table(store):
    return store.table("rig")


FIELDS = st.fixed_dictionaries(
    {"n": st.integers(0, 3)},
    optional={
        "s": st.sampled_from(["a", "b", ""]),
        "f": st.sampled_from([0.0, 1.0, True, None]),
        "o": st.fixed_dictionaries({"p": st.integers(0, 2)}),
        "l": st.lists(st.integers(0, 3), max_size=3),
    },
)
CONDITIONS = st.sampled_from(
    [
        where("n") == 1,
        where("n") == 1.0,
        where("f") == True,  # noqa: E712 (a query, not a comparison)
        where("f") == None,  # noqa: E711
        where("s") == "",
        where("o").p == 1,
        where("l") == [1],
        where("n") != 1,
        where("n") > 1,
        where("s").exists(),
        ~(where("n") == 1),
        (where("n") == 1) & (where("s") == "a"),
        (where("n") == 1) | (where("s") == "a"),
        where("l").any([1, 2]),
        where("s").matches("[ab]"),
        Query().fragment({"n": 2}),
        where("n").test(lambda value: value % 2 == 0),
        where("o").p.one_of([0, 1]),
        Query().noop(),
    ]
)
STEPS = st.one_of(
    st.tuples(st.just("insert"), FIELDS),
    st.tuples(st.just("insert_multiple"), st.lists(FIELDS, max_size=3)),
    st.tuples(st.just("update"), FIELDS, CONDITIONS),
    st.tuples(st.just("update_all"), FIELDS),
    st.tuples(st.just("increment"), CONDITIONS),
    st.tuples(st.just("upsert"), FIELDS, CONDITIONS),
    st.tuples(st.just("upsert_id"), FIELDS, st.integers(0, 9)),
    st.tuples(st.just("insert_id"), FIELDS, st.integers(0, 9)),
    st.tuples(st.just("remove"), CONDITIONS),
    st.tuples(st.just("update_id"), FIELDS, st.lists(st.integers(0, 9), max_size=3)),
    st.tuples(st.just("remove_id"), st.lists(st.integers(0, 9), max_size=3)),
    st.tuples(st.just("update_multiple"), FIELDS, CONDITIONS, FIELDS, CONDITIONS),
    st.tuples(st.just("truncate")),
    st.tuples(st.just("reindex"), CONDITIONS),
)


class Stock(tinydb.table.Table):
    """The stock table with the same ids as ours, so that both can be compared."""

    document_id_class = str
    default_query_cache_capacity = 0

    def __init__(self, *arguments, **options):
        super().__init__(*arguments, **options)
        self.ids = None

    def _get_next_id(self):
        return next(self.ids)


def ids():
    number = 0
    while True:
        yield f"id{number}"
        number += 1


def do(table, step):
    """Apply one step and return its outcome, an error by its kind."""
    name, *given = step
    try:
        match name:
            case "insert":
                return table.insert(copy.deepcopy(given[0]))
            case "insert_multiple":
                return table.insert_multiple(copy.deepcopy(given[0]))
            case "update":
                return sorted(table.update(copy.deepcopy(given[0]), given[1]))
            case "update_all":
                return sorted(table.update(copy.deepcopy(given[0])))
            case "increment":
                return sorted(table.update(increment("n"), given[0]))
            case "upsert":
                return sorted(table.upsert(copy.deepcopy(given[0]), given[1]))
            case "upsert_id":
                return table.upsert(Document(copy.deepcopy(given[0]), doc_id=f"id{given[1]}"))
            case "insert_id":
                return table.insert(Document(copy.deepcopy(given[0]), doc_id=f"id{given[1]}"))
            case "remove":
                return sorted(table.remove(given[0]))
            case "update_id":
                return sorted(table.update(copy.deepcopy(given[0]), doc_ids=[f"id{n}" for n in given[1]]))
            case "remove_id":
                return sorted(table.remove(doc_ids=dict.fromkeys(f"id{n}" for n in given[0])))
            case "update_multiple":
                return sorted(table.update_multiple([(given[0], given[1]), (given[2], given[3])]))
            case "truncate":
                return table.truncate()
            case "reindex":
                return by_id(table.search(given[0]))
    except ValueError as error:
        return type(error)


def by_id(documents):
    return sorted((document.doc_id, dict(document)) for document in documents)


@settings(max_examples=60, deadline=None)
@given(steps=st.lists(STEPS, min_size=1, max_size=12), condition=CONDITIONS)
def test_ours_and_the_stock_table_do_the_same(tmp_path_factory, steps, condition):
    folder = tmp_path_factory.mktemp("side") / "site"
    stock_base = TinyDB(storage=MemoryStorage)
    stock = Stock(stock_base.storage, "rig")
    with Store.create(folder, store_id="s", kind="site", device="k", disk=HastyDisk()) as store:
        ours = store.table("rig")
        stock.ids = ids()
        numbers = ids()
        ours._get_next_id = lambda: next(numbers)
        for step in steps:
            outcome = do(stock, step)
            assert do(ours, step) == outcome, step
            assert by_id(ours.all()) == by_id(stock.all()), step
        assert by_id(ours.search(condition)) == by_id(stock.search(condition))
        assert ours.count(condition) == stock.count(condition)
        assert ours.contains(condition) == stock.contains(condition)
        assert (ours.get(condition) is None) == (stock.get(condition) is None)
        assert len(ours) == len(stock)
        with Store(folder, device="k", disk=HastyDisk()) as reopened:
            assert by_id(reopened.table("rig").all()) == by_id(stock.all())


def test_documents_come_back_in_the_order_they_were_inserted(table):
    numbers = [3, 1, 2, 1]
    for number in numbers:
        table.insert({"n": number})
    assert [document["n"] for document in table] == numbers
    assert [document["n"] for document in table.search(where("n") < 3)] == [1, 2, 1]
    assert [document["n"] for document in table.search(where("n") == 1)] == [1, 1]


def test_ids_are_strings_that_no_other_laptop_makes(table):
    one, two = table.insert({}), table.insert({})
    assert isinstance(one, str)
    assert one != two
    assert table.get(doc_id=one).doc_id == one
    assert [document.doc_id for document in table.get(doc_ids=[two])] == [two]
    assert table.contains(doc_id=two)
    assert table.get(doc_id="nobody") is None


def test_an_update_writes_only_what_changed(store, table):
    ids_made = table.insert_multiple({"n": number} for number in range(50))
    before = len(store.revisions())
    table.update({"n": 7}, where("n") == 7)
    assert len(store.revisions()) == before
    table.update({"m": 1}, where("n") == 7)
    assert len(store.revisions()) == before + 1
    table.update(delete("m"), doc_ids=[ids_made[7]])
    table.update(add("n", 3), doc_ids=[ids_made[7]])
    table.update(decrement("n"), doc_ids=[ids_made[7]])
    table.update(set_field("n", 7), doc_ids=[ids_made[7]])
    assert len(store.revisions()) == before + 5
    assert table.get(doc_id=ids_made[7]) == {"n": 7}


def test_an_update_that_fails_midway_changes_nothing(store, table):
    table.insert_multiple([{"n": 1}, {"n": "text"}])

    def double(document):
        document["n"] = document["n"] // 1 * 2

    with pytest.raises(TypeError):
        table.update(double)
    assert [document["n"] for document in table] == [1, "text"]
    assert len(store.revisions()) == 2


def test_what_a_search_returns_is_the_callers_own(table):
    table.insert({"list": [1]})
    table.search(where("list").exists())[0]["list"].append(2)
    next(iter(table))["list"].append(3)
    table.get(where("list").exists())["list"].append(4)
    assert table.all() == [{"list": [1]}]


def test_what_json_cannot_say_is_refused_by_tables_too(table):
    with pytest.raises(InputError):
        table.insert({"n": float("nan")})
    assert len(table) == 0


def test_equality_is_answered_without_reading_the_other_documents(store, table):
    table.insert_multiple({"set": number // 10, "n": number} for number in range(200))
    table.search(where("set") == 3)
    read = []

    class Watched(Query):
        pass

    condition = (where("set") == 3) & where("n").test(lambda value: read.append(value) or True)
    condition._hash = ("and", frozenset([(where("set") == 3)._hash, ("other",)]))
    assert len(table.search(condition)) == 10
    assert len(read) == 10


def test_an_index_follows_other_processes(store, again, table):
    table.insert({"set": 1})
    table.search(where("set") == 1)
    again().table("rig").insert({"set": 1})
    store.refresh()
    assert len(table.search(where("set") == 1)) == 2


def test_whole_database_calls_work_and_leave_history(store, table):
    table.insert({"n": 1})
    store.db.table("check").insert({"n": 2})
    assert store.db.tables() == {"rig", "check"}
    store.db.drop_table("rig")
    assert store.db.tables() == {"check"}
    store.db.drop_tables()
    assert store.db.tables() == set()
    assert len(store.revisions()) == 4


def test_the_inner_names_of_tinydb_that_are_relied_on_are_still_there():
    assert tinydb.__version__.startswith("4.")
    for name in ("_read_table", "_update_table", "_get_next_id"):
        assert callable(getattr(tinydb.table.Table, name))
    assert (where("a").b == 1)._hash == ("==", ("a", "b"), 1)
    both = (where("a") == 1) & (where("b") == 2)
    assert both._hash[0] == "and"
    assert ("==", ("a",), 1) in both._hash[1]
