"""A process that writes to a store until it is killed, and prints each acknowledgement.

``python -m tests.faults.writer FOLDER NAME``: it inserts its own documents, raises a shared counter
(read, add one, commit under one lock), and seals now and then.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from fieldlog.store.lines import Change
from fieldlog.store.store import Store


def main(folder: str, name: str) -> None:
    with Store(Path(folder), device=name) as store:
        tell("ready")
        number = 0
        while True:
            document = f"{name}-{os.getpid()}-{number}"
            revision = store.commit([Change("set", document, {"n": number})], by=name)[0]
            tell(f"saved {revision.id}")
            with store.writing():
                seen = store.shown("count", "shared")
                value = 0 if seen is None else seen.body["v"]
                parents = () if seen is None else (seen.id,)
                store.commit([Change("count", "shared", {"v": value + 1}, parents)], by=name)
            tell("counted")
            number += 1
            if number % 15 == 0:
                store.seal()


def tell(text: str) -> None:
    os.write(1, f"{text}\n".encode())


if __name__ == "__main__":
    main(*sys.argv[1:])
