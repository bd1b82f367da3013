"""Run the named parts (default: all) and print each ratio beside its goal.

Each part is a module with ``rows()``; a row holds what ours and the peer took in the same run.
Example: python -m tests.bench trace store --json
"""

from __future__ import annotations

import argparse
import importlib
import json
import pkgutil
import sys

import tests.bench


def main() -> int:
    parts = sorted(
        module.name
        for module in pkgutil.iter_modules(tests.bench.__path__)
        if not module.name.startswith("_")
    )
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of: {', '.join(parts)}")
    parser.add_argument("--json", action="store_true", help="one line of JSON")
    options = parser.parse_args()
    unknown = sorted(set(options.parts) - set(parts))
    if unknown:
        parser.error(f"no such part: {', '.join(unknown)}; there are {', '.join(parts)}")
    rows = [
        row
        for part in options.parts or parts
        for row in importlib.import_module(f"tests.bench.{part}").rows()
    ]
    if options.json:
        print(json.dumps({"rows": rows}))
        return 0
    for row in rows:
        verdict = "met" if row["met"] else "missed"
        print(
            f"{row['name']:<52} {row['ours']:>12.6g} beside {row['beside']:>12.6g} ({row['peer']}) "
            f"= {row['ratio']:.3g} (goal {row['goal']}: {verdict})"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
