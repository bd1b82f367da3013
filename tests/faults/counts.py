"""How much is tried: a little by default, the full counts under ``python -m tests.long``; and what was."""

import os
from collections import Counter

LONG = bool(os.environ.get("FIELDLOG_LONG"))
SCALE = 25 if LONG else 1

Tally = Counter
TALLY: dict[str, Counter] = {}
