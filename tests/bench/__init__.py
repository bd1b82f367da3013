"""Ratios, measured beside their peer in one run: ``python -m tests.bench [PART …] [--json]``."""
