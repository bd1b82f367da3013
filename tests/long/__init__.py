"""The same tests with full counts: ``python -m tests.long [pytest options]``.

Faults, fuzz cases, simulated squads and random key presses read their counts from FIELDLOG_LONG.
"""
