"""Setups: plans walked step by step, what to change for the next athlete, where to start with a new one."""
