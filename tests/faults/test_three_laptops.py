"""Three laptops, one stick, random days: whatever happens on the way, nothing acknowledged is lost."""

import shutil
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from fieldlog.store.lines import Change
from fieldlog.store.store import Store
from tests.faults.counts import LONG, TALLY, Tally
from tests.faults.failing_disk import HastyDisk

LAPTOPS = st.integers(0, 2)
DOCUMENTS = st.sampled_from(["a", "b", "c"])
DAY_MS = 24 * 3600 * 1000


class Oracle:
    """Twenty lines that say what the store has to say: a set of revisions, heads are those nobody names."""

    def __init__(self):
        self.revisions = {}

    def add(self, revision):
        self.revisions[revision.id] = (revision.document, set(revision.parents), revision.body)

    def heads(self, document, known):
        own = {i: parents for i, (d, parents, _) in self.revisions.items() if d == document and i in known}
        return set(own) - set().union(*own.values()) if own else set()

    def body(self, identity):
        return self.revisions[identity][2]

    def conflict(self, document, known):
        return len({repr(self.body(identity)) for identity in self.heads(document, known)}) > 1


class Laptop:
    def __init__(self, folder, device):
        self.folder, self.device, self.skew_ms, self.now_ms = folder, device, 0, 1_950_000_000_000
        Store.create(folder, store_id="s", kind="site", device=device, disk=HastyDisk()).close()
        self.store = None
        self.open()

    def tick(self):
        self.now_ms += 1
        return self.now_ms + self.skew_ms

    def open(self):
        if self.store is not None:
            self.store.close()
        self.store = Store(self.folder, device=self.device, disk=HastyDisk(), now_ms=self.tick)

    def found(self):
        return {revision.id for revision in self.store.revisions()}


class ThreeLaptops(RuleBasedStateMachine):
    @initialize()
    def start(self):
        self.root = Path(tempfile.mkdtemp(prefix="fieldlog-laptops-"))
        self.laptops = [Laptop(self.root / name, name) for name in ("kestrel", "heron", "plover")]
        self.stick = self.root / "stick"
        self.stick.mkdir()
        self.oracle = Oracle()
        self.known = [set(), set(), set()]
        self.value = 0
        self.backup = None

    def commit(self, number, document, body, parents):
        store = self.laptops[number].store
        change = Change("set", document, body, tuple(parents))
        (made,) = store.commit([change], by=self.laptops[number].device)
        self.oracle.add(made)
        self.known[number].add(made.id)

    @rule(number=LAPTOPS, document=DOCUMENTS, data=st.data())
    def edit(self, number, document, data):
        """Save after what is shown, or after something older that a form still had open."""
        history = self.laptops[number].store.history("set", document)
        parents = [data.draw(st.sampled_from(history)).id] if history else []
        self.value += 1
        self.commit(number, document, {"v": data.draw(st.sampled_from([self.value, 0]))}, parents)

    @rule(edits=st.lists(st.tuples(LAPTOPS, DOCUMENTS), min_size=3, max_size=8), data=st.data())
    def work(self, edits, data):
        for number, document in edits:
            self.edit(number, document, data)

    @rule(number=LAPTOPS, document=DOCUMENTS)
    def delete(self, number, document):
        shown = self.laptops[number].store.shown("set", document)
        if shown is not None and not shown.deleted:
            self.commit(number, document, None, [shown.id])

    @rule(number=LAPTOPS, document=DOCUMENTS)
    def resolve(self, number, document):
        heads = self.laptops[number].store.heads("set", document)
        if len(heads) > 1:
            self.commit(number, document, heads[-1].body, [head.id for head in heads])
            assert len(self.laptops[number].store.heads("set", document)) == 1

    @rule(number=LAPTOPS, document=DOCUMENTS)
    def undo(self, number, document):
        if self.laptops[number].store.shown("set", document) is not None:
            made = self.laptops[number].store.undo("set", document, by="ann")
            self.oracle.add(made)
            self.known[number].add(made.id)

    @rule(number=LAPTOPS)
    def reopen(self, number):
        self.laptops[number].open()

    @rule(number=LAPTOPS, days=st.integers(-800, 4000))
    def set_the_clock(self, number, days):
        self.laptops[number].skew_ms = days * DAY_MS

    @rule(number=LAPTOPS, cut=st.none() | st.floats(0, 1), zeros=st.booleans())
    def bring(self, number, cut, zeros):
        """Copy to the stick what it lacks or holds otherwise; a cut leaves half a file, or zeros."""
        store = self.laptops[number].store
        store.seal()
        copy_files(store.path / "sealed", self.stick, cut, zeros=zeros)

    @rule(number=LAPTOPS, cut=st.none() | st.floats(0, 1), zeros=st.booleans())
    def fetch(self, number, cut, zeros):
        folder = self.laptops[number].folder / "sealed"
        folder.mkdir(exist_ok=True)
        copy_files(self.stick, folder, cut, zeros=zeros)
        self.laptops[number].store.refresh()

    @rule(number=LAPTOPS, position=st.integers(0, 10**6))
    def flip_a_bit(self, number, position):
        """Damage a sealed file that the stick holds whole."""
        folder = self.laptops[number].folder / "sealed"
        for name in sorted(names(folder) & names(self.stick)):
            data = (self.stick / name).read_bytes()
            if whole(name, data):
                flipped = bytearray(data)
                flipped[position % len(data)] ^= 1
                (folder / name).write_bytes(flipped)
                # The lines it hid come back with the next undamaged copy.
                self.laptops[number].open()
                self.known[number] &= self.laptops[number].found()
                return

    @precondition(lambda self: self.backup is None)
    @rule(number=LAPTOPS)
    def make_a_backup(self, number):
        self.backup = self.root / "backup"
        shutil.copytree(self.laptops[number].folder, self.backup)

    @precondition(lambda self: self.backup is not None)
    @rule(number=LAPTOPS)
    def restore_the_backup(self, number):
        """Bring all to the stick, then replace the laptop by an older copy of itself or of another."""
        self.bring(number, None, False)
        laptop = self.laptops[number]
        laptop.store.close()
        shutil.rmtree(laptop.folder)
        shutil.move(self.backup, laptop.folder)
        self.backup = None
        laptop.open()
        self.known[number] = laptop.found()

    def check(self, number):
        laptop = self.laptops[number]
        found = laptop.found()
        assert self.known[number] <= found <= set(self.oracle.revisions)
        self.known[number] = found
        for document in ("a", "b", "c"):
            strand = laptop.store._documents.strand("set", document)
            raw = set() if strand is None else {head.id for head in strand.raw_heads()}
            assert raw == self.oracle.heads(document, found)
        conflicts = {conflict.document for conflict in laptop.store.conflicts()}
        assert conflicts == {d for d in ("a", "b", "c") if self.oracle.conflict(d, found)}

    @rule(number=LAPTOPS)
    def look(self, number):
        self.check(number)

    def teardown(self):
        if not hasattr(self, "laptops"):
            return
        for _ in range(2):
            for number in (2, 0, 1):
                self.bring(number, None, False)
            for number in (1, 2, 0):
                self.fetch(number, None, False)
        for number in range(3):
            self.check(number)
            assert self.known[number] == set(self.oracle.revisions), "something acknowledged is lost"
            assert {problem.kind for problem in self.laptops[number].store.problems()} <= set()
        shown = [
            {document: laptop.store.shown("set", document) for document in ("a", "b", "c")}
            for laptop in self.laptops
        ]
        assert shown[0] == shown[1] == shown[2]
        for laptop in self.laptops:
            laptop.store.close()
        shutil.rmtree(self.root)
        tally = TALLY.setdefault("three_laptops_and_a_stick", Tally())
        tally["days"] += 1
        tally["acknowledged"] += len(self.oracle.revisions)
        tally["lost"] += 0


def names(folder):
    return {path.name for path in folder.iterdir() if path.suffix == ".jsonl"} if folder.is_dir() else set()


def whole(name, data):
    import hashlib

    return hashlib.sha256(data).hexdigest() + ".jsonl" == name


def copy_files(source, target, cut, *, zeros):
    """Copy what the target lacks or holds otherwise, as a plain copy does; stop within it at a cut."""
    todo = [name for name in sorted(names(source)) if whole(name, (source / name).read_bytes())]
    todo = [n for n in todo if not (target / n).exists() or not whole(n, (target / n).read_bytes())]
    sizes = [(source / name).stat().st_size for name in todo]
    left = sum(sizes) if cut is None else int(cut * sum(sizes))
    for name, size in zip(todo, sizes, strict=True):
        data = (source / name).read_bytes()[:left]
        if zeros and left < size:
            data += bytes(size - left)
        (target / name).write_bytes(data)
        left -= size
        if left < 0:
            return


TestThreeLaptops = ThreeLaptops.TestCase
TestThreeLaptops.settings = settings(
    max_examples=300 if LONG else 12,
    stateful_step_count=60 if LONG else 30,
    deadline=None,
)
