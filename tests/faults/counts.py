"""How much is tried: a little by default, the full counts under ``python -m tests.long``."""

import os

LONG = bool(os.environ.get("FIELDLOG_LONG"))
SCALE = 25 if LONG else 1
