"""Take one safeguard of the store away at a time; the tests must notice each. ``python -m tests.faults.mutations``.

The package is copied, one text in it replaced, and the store's and the faults' tests run against the
copy. A mutant that survives means a safeguard that no test watches, and the script leaves with 1.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Mutant:
    """One safeguard: where it stands, its text, and what stands there without it."""

    name: str
    module: str
    old: str
    new: str


MUTANTS = [
    Mutant(
        "no flush of a line",
        "journal.py",
        "        try:\n            self._disk.fsync(self._descriptor)\n        except OSError as error:\n            # After",
        "        try:\n            pass\n        except OSError as error:\n            # After",
    ),
    Mutant("no flush of a new file", "disk.py", "                self.fsync(descriptor)\n", ""),
    Mutant(
        "no flush of a folder",
        "disk.py",
        "            self.fsync_folder(path.parent)\n        except",
        "        except",
    ),
    Mutant(
        "no flush of the active file's folder",
        "journal.py",
        "            self._disk.fsync_folder(self._folder)",
        "            pass",
    ),
    Mutant(
        "no checksum",
        "lines.py",
        '    if line[:CRC_LENGTH] != b"%08x " % crc32(payload):\n',
        "    if False:\n",
    ),
    Mutant(
        "no lock",
        "disk.py",
        "            _try_lock(descriptor)\n        except",
        "            pass\n        except",
    ),
    Mutant(
        "others' lines are not taken in before a write",
        "store.py",
        "if self._journal.take_in(writing=True, make_header=self._header):",
        "if self._journal.commits() == 0 and self._journal.take_in(writing=True, make_header=self._header):",
    ),
    Mutant(
        "visible before durable",
        "store.py",
        "            self._journal.append(line)\n            for revision in revisions:\n"
        "                self._documents.follow(revision)\n",
        "            for revision in revisions:\n                self._documents.follow(revision)\n"
        "            self._journal.append(line)\n",
    ),
    Mutant(
        "a failed write is not taken back",
        "journal.py",
        "            self._cut_back()\n            raise save_error(self.path, error) from error\n        try:",
        "            raise save_error(self.path, error) from error\n        try:",
    ),
    Mutant(
        "writing goes on after a failed flush",
        "journal.py",
        '            self._refused = "the disk failed while saving, nothing more is written until it was read again"\n',
        "",
    ),
    Mutant(
        "a short write counts as whole",
        "disk.py",
        "        while written < len(data):",
        "        while False:",
    ),
    Mutant(
        "a torn tail is not cut",
        "journal.py",
        "        if self._tail:\n            self._keep",
        "        if False:\n            self._keep",
    ),
    Mutant(
        "a torn tail is cut without a copy",
        "journal.py",
        '            self._keep_aside("torn", self._disk.read_at(self._descriptor, self._end, size - self._end))\n',
        "",
    ),
    Mutant(
        "ids are not held against their bytes",
        "lines.py",
        "    if hashlib.sha256(rest).hexdigest() != identity:",
        "    if False:",
    ),
    Mutant(
        "usual ids are not held against their bytes",
        "lines.py",
        "    if hashlib.sha256(payload[ENTRY_START + 1 : -2]).hexdigest().encode() != identity:",
        "    if False:",
    ),
    Mutant(
        "a checked file is not held against its name",
        "sealed.py",
        "        if digest.hexdigest() + SUFFIX != name:\n            return False",
        "        if False:\n            return False",
    ),
    Mutant(
        "a new file is not held against its name",
        "sealed.py",
        "        whole = digest.hexdigest() + SUFFIX == name",
        "        whole = True",
    ),
    Mutant(
        "a file from elsewhere is not held against its name",
        "sealed.py",
        "or sealed_name(data) != name:",
        "or False:",
    ),
    Mutant(
        "the active file is emptied before it is sealed",
        "store.py",
        "                name = self._sealed.add(self._journal.content(), self._journal.header)",
        "                content, header = self._journal.content(), self._journal.header\n"
        "                self._journal.restart(header)\n"
        "                name = self._sealed.add(content, header)",
    ),
    Mutant(
        "the emptied file is not flushed before its new header",
        "journal.py",
        "            self._disk.truncate(self._descriptor, 0)\n            self._disk.fsync(self._descriptor)",
        "            self._disk.truncate(self._descriptor, 0)",
    ),
    Mutant(
        "parents of other records count",
        "store.py",
        "if known is None or (known.table, known.document) != (change.table, change.document):",
        "if known is None:",
    ),
    Mutant("twins stay behind", "store.py", "            parents = strand.with_twins(parents)\n", ""),
    Mutant(
        "a far future clock is taken over",
        "clock.py",
        "if self._last < stamp <= self.horizon():",
        "if self._last < stamp:",
    ),
    Mutant(
        "a recording is not held against its name",
        "traces.py",
        "    if not whole or hashlib.sha256(data).hexdigest() != name:",
        "    if not whole:",
    ),
    Mutant(
        "an erased person may return",
        "persons.py",
        "        if self.erased(athlete_id):\n            raise",
        "        if False:\n            raise",
    ),
    Mutant(
        "leftovers of an erased person stay",
        "persons.py",
        "                leftovers.append(name)\n",
        "                continue\n",
    ),
    Mutant(
        "a newer schema is overwritten",
        "repo.py",
        "            self._refuse_newer(head)\n",
        "            pass\n",
    ),
]


def survives(mutant: Mutant) -> bool:
    """Tell whether the tests pass without the safeguard."""
    source = ROOT / "fieldlog" / "store" / mutant.module
    text = source.read_text(encoding="utf-8")
    if text.count(mutant.old) != 1:
        raise SystemExit(f"{mutant.name}: its text stands {text.count(mutant.old)} times in {mutant.module}")
    with tempfile.TemporaryDirectory(prefix="fieldlog-mutant-") as folder:
        for name in ("fieldlog", "tests", "pyproject.toml", "sample_sites"):
            place, copy = ROOT / name, Path(folder) / name
            if place.is_dir():
                shutil.copytree(place, copy, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(place, copy)
        changed = Path(folder) / "fieldlog" / "store" / mutant.module
        changed.write_text(text.replace(mutant.old, mutant.new), encoding="utf-8")
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "pytest",
                "-x",
                "-q",
                "-p",
                "no:cacheprovider",
                "tests/store",
                "tests/faults",
            ],
            cwd=folder,
            env={**os.environ, "PYTHONPATH": folder},
            capture_output=True,
            check=False,
            timeout=900,
        )
        return done.returncode == 0


def main() -> int:
    wanted = sys.argv[1:]
    chosen = [mutant for mutant in MUTANTS if not wanted or any(word in mutant.name for word in wanted)]
    survivors = []
    for mutant in chosen:
        survived = survives(mutant)
        print(f"{'SURVIVED' if survived else 'noticed':<9} {mutant.name}", flush=True)
        survivors += [mutant.name] * survived
    print(f"{len(chosen)} safeguards taken away, {len(survivors)} not noticed")
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main())
