"""Three laptops over thousands of random steps and every mishap on the way: they converge, and nothing is lost."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from fieldlog.errors import FieldlogError
from fieldlog.exchange.folder_depot import FolderDepot
from tests.exchange.laptops import (
    NOTES,
    START_MS,
    Clock,
    CutDisk,
    Laptop,
    Oracle,
    any_file,
    revisions_in,
    zero_fill,
)
from tests.faults.counts import SCALE
from tests.faults.failing_disk import HastyDisk

YEAR_MS = 365 * 24 * 3600 * 1000
DOCUMENTS = [f"d{number}" for number in range(6)]
ROUNDS = 3 * SCALE
STEPS = 40


def everything_on(laptop: Laptop) -> set[str]:
    return set().union(*laptop.revisions().values())


class Team:
    """Three laptops, two sticks, backups, and the oracle that was told of every acknowledged change."""

    def __init__(self, folder: Path, chance: random.Random) -> None:
        self.folder = folder
        self.chance = chance
        self.oracle = Oracle()
        self.sticks = [folder / "stick one", folder / "stick two"]
        self.laptops = [Laptop(folder / name, clock=Clock()) for name in ("kestrel", "heron", "owl")]
        self.backups = 0
        first = self.laptops[0]
        self.oracle.acknowledge(first.site(), *first.site().revisions())
        self.laptops[0].sync(self.sticks[0])
        for laptop in self.laptops[1:]:
            laptop.sync(self.sticks[0])

    def store(self, laptop: Laptop):
        return laptop.team if self.chance.random() < 0.3 else laptop.site()

    def edit(self, laptop: Laptop) -> None:
        store, document = self.store(laptop), self.chance.choice(DOCUMENTS)
        body = (
            None
            if self.chance.random() < 0.15
            else {"n": self.chance.randrange(5), "text": "x" * self.chance.randrange(300)}
        )
        if body is None and store.shown(NOTES, document) is None:
            return
        self.oracle.acknowledge(store, laptop.write(store, document, body))

    def resolve(self, laptop: Laptop) -> None:
        for store in laptop.stores():
            for conflict in store.conflicts():
                self.oracle.acknowledge(store, laptop.resolve(store, conflict.document))

    def sync(self, laptop: Laptop) -> None:
        laptop.sync(self.chance.choice(self.sticks), verify=self.chance.random() < 0.2)

    def cut_depot(self, laptop: Laptop) -> None:
        stick = self.chance.choice(self.sticks)
        depot = FolderDepot(stick, disk=CutDisk(self.chance.randrange(3000)))
        try:
            laptop.sync(depot)
        except FieldlogError:
            laptop.reopen()

    def cut_laptop(self, laptop: Laptop) -> None:
        laptop.with_disk(CutDisk(self.chance.randrange(6000)))
        try:
            laptop.sync(self.chance.choice(self.sticks))
        except (FieldlogError, OSError):
            pass
        finally:
            laptop.with_disk(HastyDisk())

    def spoil(self, _laptop: Laptop) -> None:
        path = any_file(self.chance.choice(self.sticks), self.chance)
        if path is None or self._everywhere() - self._everywhere(but=path):
            return  # the last copy of what a lost laptop had written is left alone
        how = self.chance.randrange(4)
        if how == 0:
            zero_fill(path)
        elif how == 1:
            path.write_bytes(path.read_bytes()[: self.chance.randrange(path.stat().st_size + 1)])
        elif how == 2:
            path.unlink()
        else:
            data = bytearray(path.read_bytes())
            if data:
                data[self.chance.randrange(len(data))] ^= 1 << self.chance.randrange(8)
                path.write_bytes(bytes(data))

    def lose_stick(self, _laptop: Laptop) -> None:
        shutil.rmtree(self.chance.choice(self.sticks), ignore_errors=True)

    def clock(self, laptop: Laptop) -> None:
        laptop.clock.now_ms = START_MS + self.chance.randrange(-3 * YEAR_MS, 3 * YEAR_MS)

    def seal(self, laptop: Laptop) -> None:
        self.store(laptop).seal()

    def backup_and_restore(self, laptop: Laptop) -> None:
        self.backups += 1
        backup = self.folder / f"backup {self.backups}"
        laptop.copy_to(backup)
        for _ in range(self.chance.randrange(4)):
            self.chance.choice([self.edit, self.sync])(laptop)
        before = everything_on(laptop)
        laptop.restore_from(backup)
        shutil.rmtree(backup)
        self._forget_what_only_stood_in(before)

    def clone(self, laptop: Laptop) -> None:
        """Another laptop's disk dies and is replaced by a copy of this one's."""
        other = self.chance.choice([one for one in self.laptops if one is not laptop])
        self.backups += 1
        image = self.folder / f"image {self.backups}"
        laptop.copy_to(image)
        before = everything_on(other)
        other.restore_from(image)
        shutil.rmtree(image)
        self._forget_what_only_stood_in(before)

    def _forget_what_only_stood_in(self, lost: set[str]) -> None:
        """What was on the lost disk alone is gone; what reached a laptop or a stick whole must be found again."""
        self.oracle.forget(lost - self._everywhere())

    def _everywhere(self, but: Path | None = None) -> set[str]:
        found = set().union(*(everything_on(laptop) for laptop in self.laptops))
        for stick in self.sticks:
            found |= revisions_in(stick, but=but)
        return found

    def step(self) -> str:
        moves = {
            self.edit: 40, self.resolve: 6, self.sync: 20, self.cut_depot: 10, self.cut_laptop: 8, self.spoil: 8,
            self.lose_stick: 1, self.clock: 3, self.seal: 4, self.backup_and_restore: 1, self.clone: 1,
        }  # fmt: skip
        (move,) = self.chance.choices(list(moves), list(moves.values()))
        if move == self.lose_stick:
            # A stick that is lost takes with it what it alone held; before, everybody has taken it in.
            for laptop in self.laptops:
                for stick in self.sticks:
                    laptop.sync(stick)
        move(self.chance.choice(self.laptops))
        return move.__name__

    def meet(self) -> None:
        for _ in range(2):
            for stick in self.sticks:
                for laptop in self.laptops:
                    laptop.sync(stick)

    def close(self) -> None:
        for laptop in self.laptops:
            laptop.workspace.close()


@pytest.mark.parametrize("seed", range(ROUNDS))
def test_three_laptops_converge_to_the_oracles_heads(tmp_path, seed, tally) -> None:
    chance = random.Random(seed)
    team = Team(tmp_path, chance)
    for _ in range(STEPS):
        tally[team.step()] += 1
    team.meet()
    expected = team.oracle.revisions()
    tally["revisions"] += sum(len(ids) for ids in expected.values())
    for laptop in team.laptops:
        assert {store: ids for store, ids in laptop.revisions().items() if ids} == expected
        assert laptop.heads() == team.laptops[0].heads()
        assert laptop.shown() == team.laptops[0].shown()
        laptop.reopen()
        assert all(not store.problems() for store in laptop.stores()), [
            store.problems() for store in laptop.stores()
        ]
        report = laptop.sync(team.sticks[0], verify=True).body()
        assert (report["sent"], report["received"]) == (0, 0)
        for entry in report["set_aside"]:
            # A half-written file of a disk that was lost: nobody is left to complete it.
            assert not list(tmp_path.glob(f"*/*/sealed/{entry['file'].rpartition('/')[2]}")) or not any(
                (one.path / entry["file"]).exists() for one in team.laptops
            )
    assert team.laptops[0].heads() == team.oracle.heads()
    team.close()
